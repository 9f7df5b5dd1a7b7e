"""The signed record on paper: all that its seal states, in the order of the page on screen.

Where · what · with what · when and weather · amounts · check · signature. The file is dated from
the seal, and what is stated above the signature is read from the seal and from what amended it
alone. The table of duties below it is by the law as sealed, with a note whether the law that is
carried today reads otherwise: while that stays, the same seal gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import segno

from logbook.documents import words
from logbook.documents.duties import put_due, put_duties, put_standing
from logbook.documents.file import About, to_pdf
from logbook.documents.ledger import Fact, Ledger
from logbook.documents.page import BODY, SMALL, Bitmap, Photo, Run, Sheet
from logbook.documents.sections import Sections
from logbook.documents.source import Delivery, printed_words, put_deliveries
from logbook.documents.typeface import LETTERS_NOTE
from logbook.facts.duty import Kind
from logbook.law.applicability import applicable
from logbook.localization.locale import plain_english
from logbook.records.reading.owed import Item
from logbook.records.sealing import pictures
from logbook.records.sealing.law import as_sealed
from logbook.records.sealing.sealed import SealedRecord
from logbook.sections.document import Document
from logbook.sections.lines import document

CODE_VERSION, CODE_MASK = 5, 3
"""Of the seal's code: fixed, so that the same seal draws the same modules, and quickly."""

CODE_SIDE = 54.0
"""In points: 1.46 a module, 0.51 mm."""

PHOTO_SIDE = 184.0
"""Of the square in which a picture of the annex stands, in points."""

CLOCK = " by the camera's clock"
DEGREES = " (latitude, longitude, WGS 84; as the camera says)"
LOST = "The stored picture is gone or is not the one that was sealed."

CAUTIONS = (
    "The product label is the law and decides wherever this paper differs from it; state, county "
    "and landholder rules can be stricter. Wear the protective equipment that the label names, for "
    "early entry too. In doubt ask the licensed supervisor or the authority."
)
NOT_KNOWN = (
    "What the computation does not know: a nozzle that blocked or wore since the catch test, boom "
    "sway and overlap, speed and pressure between the readings entered, wind where and when nobody "
    "read it, and what stood in the tank before. It checks the figures entered, not the field."
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Amended:
    """A later record that corrects this one."""

    number: int
    reason: str | None  # None: nothing but the number is for the reader
    sealed_at: datetime

    @classmethod
    def of(cls, later: SealedRecord) -> Amended:
        """Return what a later sealed record, an amendment, is named by."""
        reason = later.snapshot.amends.reason if later.snapshot.amends else ""
        return cls(number=later.number, reason=reason, sealed_at=later.sealed_at)


@plain_english()
def render_record(
    sealed: SealedRecord,
    *,
    amended_by: Sequence[Amended] = (),
    paper: str = "letter",
    items: Sequence[Item] | None = None,
    printed_at: datetime | None = None,
) -> bytes:
    """Return the PDF of a sealed record.

    Args: amended_by, the later records that correct it, in order; paper, "letter" or "a4"; items,
    what is due for it, and printed_at: with them it is said how each stood at the printing. Without
    them the same seal gives the same bytes.
    """
    sheet = lay_out(sealed, amended_by=amended_by, paper=paper, items=items, printed_at=printed_at)
    return to_pdf(sheet, about_record(sealed))


@plain_english()
def about_record(sealed: SealedRecord) -> About:
    """Return what the paper of a sealed record says of itself; it is dated from the seal."""
    snapshot = sealed.snapshot
    return About(
        name=f"Application record no. {sealed.number}",
        business=snapshot.business.name,
        where=(words.field_name(snapshot), words.day_of(snapshot)),
        foot=f"seal {sealed.link}",
        subject=f"Spray application record for {words.customer_name(snapshot)}",
        keywords=("spray application record", f"seal {sealed.link}"),
        software=sealed.software,
        dated=sealed.sealed_at,
    )


@plain_english()
def render_copy(
    sealed: SealedRecord,
    *,
    deliveries: Sequence[Delivery],
    amended_by: Sequence[Amended] = (),
    paper: str = "letter",
    printed_at: datetime | None = None,
) -> bytes:
    """Return the PDF of the customer's copy: the sealed record, and the proof of its delivery.

    Args: deliveries that were written down, in order; without one there are lines to write on;
        amended_by and paper as for `render_record`; printed_at, when it is printed.
    """
    sheet = lay_out(
        sealed, amended_by=amended_by, paper=paper, deliveries=deliveries, printed_at=printed_at
    )
    about = about_record(sealed)
    return to_pdf(sheet, replace(about, name=f"Customer copy of record no. {sealed.number}"))


def lay_out(
    sealed: SealedRecord,
    *,
    amended_by: Sequence[Amended],
    paper: str,
    deliveries: Sequence[Delivery] | None = None,
    printed_at: datetime | None = None,
    items: Sequence[Item] | None = None,
) -> Sheet:
    """Return the pages of a sealed record, not yet painted.

    Args: deliveries, None where it is not the customer's copy; printed_at, when it is printed;
    items, what is due for it.
    """
    shown = document(sealed.snapshot, sealed.assessment, findings=sealed.findings)

    def laid(type_sizes: tuple[float, float]) -> tuple[Sheet, int]:
        sheet = Sheet(paper, type_sizes=type_sizes)
        ledger = Ledger(sheet)
        signed_on = _put_all(ledger, sealed, shown, amended_by, deliveries, printed_at)
        if items is not None and printed_at is not None:
            put_standing(ledger, items, printed_at, sealed.snapshot.zone)
        return sheet, signed_on

    usual, signed_on = laid((BODY, SMALL))
    if len(usual.pages) == 2:
        # A record is to take one page with its law, and else one with its signature.
        tight, signed_so = laid(TIGHT)
        if len(tight.pages) == 1 or signed_so < signed_on:
            return tight
    return usual


TIGHT = (7.0, 6.0)
"""Body and small type, in points, where it brings the record, or its signature, on one page."""


def _put_all(
    ledger: Ledger,
    sealed: SealedRecord,
    shown: Document,
    amended_by: Sequence[Amended],
    deliveries: Sequence[Delivery] | None,
    printed_at: datetime | None,
) -> int:
    """Put the record; return the number of the page on which the signature stands."""
    if deliveries is not None:
        _cover(ledger, shown)
    _amended_at_the_top(ledger, sealed, amended_by)
    Sections(ledger, sealed, shown).put_all()
    _amendments(ledger, sealed, amended_by)
    _signature(ledger, sealed)
    signed_on = len(ledger.sheet.pages)
    if deliveries is not None:
        _delivered(ledger, sealed, deliveries, printed_at)
    # Read from the facts and the law data as sealed, so it stands below the signature.
    put_duties(ledger, sealed.snapshot, as_sealed(sealed), recorded_at=sealed.sealed_at)
    _annex(ledger, sealed)
    return signed_on


def code_of(sealed: SealedRecord) -> tuple[tuple[bool, ...], ...]:
    """Return the modules of the seal's QR code: its number and its link."""
    code = segno.make(
        f"{sealed.number} {sealed.link}",
        error="m",
        version=CODE_VERSION,
        mask=CODE_MASK,
        boost_error=False,
    )
    return tuple(tuple(bool(module) for module in row) for row in code.matrix)


def _amended_at_the_top(
    ledger: Ledger, sealed: SealedRecord, amended_by: Sequence[Amended]
) -> None:
    """Say before all else that this record is corrected or corrects another."""
    amends = sealed.snapshot.amends
    if amended_by:
        told = f"Corrected since: record no. {amended_by[-1].number} holds in place of this one."
        ledger.text(Run(told, "breach", True))
    if amends is not None:
        told = f"Corrects record no. {amends.number}: "
        ledger.text(Run(told, bold=True), Run(amends.reason))


def _amendments(ledger: Ledger, sealed: SealedRecord, amended_by: Sequence[Amended]) -> None:
    amends, zone = sealed.snapshot.amends, sealed.snapshot.zone
    if amends is None and not amended_by:
        return
    ledger.sheet.section("Amendments", keep=30.0)
    facts = []
    if amends is not None:
        corrected = f"record no. {amends.number}, link {amends.seal_sha256}. Reason: "
        facts.append(Fact("Corrects", (Run(corrected), *words.text_or_blank(amends.reason))))
        changes = [(Run(change),) for change in amends.changes] or [(Run("no entry differs"),)]
        facts.append(Fact("What changed", words.lines(*changes)))
    for later in amended_by:
        if later.reason is None:
            said = f"record no. {later.number}, which is outside what is opened to the reader"
            facts.append(Fact("Corrected by", (Run(said),)))
            continue
        when = words.local(later.sealed_at, zone)
        corrects = f"record no. {later.number}, sealed {when}. Reason: "
        facts.append(Fact("Corrected by", (Run(corrects), *words.text_or_blank(later.reason))))
    ledger.facts(facts)


def _signature(ledger: Ledger, sealed: SealedRecord) -> None:
    sheet, zone = ledger.sheet, sealed.snapshot.zone
    sheet.section("Signature", keep=CODE_SIDE + 18.0)
    signed_at = (
        Run(words.local(sealed.sealed_at, zone)),
        *words.quiet(f", sealed with {sealed.software}"),
    )
    how = ", with a passkey" if sealed.signed_by == "passkey" else ""
    signer = (Run(sealed.signer_name, bold=True), Run(f", {sealed.signer_role}{how}"))
    facts = [
        Fact("Signed by", signer),
        Fact("Signed at", signed_at),
        Fact("Leaf", (Run(sealed.leaf), *words.quiet(" of this record"))),
        Fact("Previous link", (Run(sealed.previous),)),
        Fact("Link", (Run(sealed.link), *words.quiet(" of both; in the code with the number"))),
    ]
    if sealed.libraries:
        facts.append(Fact("Computed with", words.quiet(sealed.computed_with)))
    cautions = (CAUTIONS, NOT_KNOWN, *([LETTERS_NOTE] if sheet.replaced else []))
    ledger.facts_beside(
        facts,
        Bitmap(CODE_SIDE, code_of(sealed)),
        text=words.quiet(" ".join(cautions)),
    )


def _annex(ledger: Ledger, sealed: SealedRecord) -> None:
    """Put the pictures of the record, small, each with what it shows and its digest."""
    for number, (one, jpeg) in enumerate(
        zip(sealed.snapshot.pictures, pictures.of_sealed(sealed.snapshot), strict=True), start=1
    ):
        ledger.sheet.section("" if number > 1 else "Annex: pictures", keep=PHOTO_SIDE + 6.0)
        facts = [
            Fact(f"Picture {number}", (Run(one.title, bold=True),)),
            Fact("SHA-256", (Run(one.sha256),)),
        ]
        if one.taken:
            facts.append(Fact("Taken", (Run(one.taken), *words.quiet(CLOCK))))
        if one.place:
            facts.append(Fact("Place", (Run(one.place), *words.quiet(DEGREES))))
        if jpeg is None:
            facts.append(Fact("Not shown", (Run(LOST, "breach", True),)))
        photo = Photo.within(jpeg, side=PHOTO_SIDE) if jpeg else None
        ledger.facts_beside(facts, photo)


def _cover(ledger: Ledger, shown: Document) -> None:
    """Say whose copy it is, and of what."""
    business = shown.facts.business
    (customer,) = shown.lines("customer")
    whose = words.of(customer, shown.facts)
    told = (
        ", made from the sealed record. The record itself, with every fact and check, is kept by "
        f"{business.name}, licence {business.licence_number or 'blank'}, telephone "
        f"{business.phone or 'blank'}."
    )
    ledger.text(Run("Copy for ", bold=True), *whose, Run(told))
    # ATCP 29.22 (Wisconsin): telephone and licence number, and precautions after the application.
    ledger.text(Run(PRECAUTIONS))
    ledger.sheet.y += 2.0


PRECAUTIONS = (
    "After the application follow what the label of each product says of entry, feeding, harvest "
    "and water; ask the business for the labels. The labels decide."
)

CONSENT = (
    "Where the law allows electronic delivery only with the customer's written consent, the day of "
    "that consent stands here."
)


def _delivered(
    ledger: Ledger,
    sealed: SealedRecord,
    deliveries: Sequence[Delivery],
    printed_at: datetime | None,
) -> None:
    """Put how, when and to whom the copy went, or the lines on which that is written."""
    s = sealed.snapshot
    ledger.sheet.section("Proof of delivery", keep=70.0)
    if deliveries:
        put_deliveries(ledger, deliveries, s.zone)
    else:
        told = "Nothing is written down yet of this copy's delivery; write here, then in the book."
        ledger.text(*words.quiet(told), size=ledger.sheet.small)
        ledger.blanks(("Handed to", "On, at", "How", "Consent of", "Given by", "Received by"))
    ledger.text(*words.quiet(CONSENT), size=ledger.sheet.small)
    if printed_at is not None:
        ledger.text(*words.quiet(printed_words(printed_at, s.zone)), size=ledger.sheet.small)
    put_due(ledger, s, applicable(s), Kind.COPY)
