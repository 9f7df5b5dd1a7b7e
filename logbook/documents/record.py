"""The signed record on paper: all that its seal states, in the order of the page on screen.

Where · what · with what · when and weather · amounts · check · signature. The same seal gives the
same bytes: nothing but the seal and what amended it is read, and the file is dated from the seal.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import segno
from reportlab.pdfgen.canvas import Canvas

from logbook.documents import words
from logbook.documents.drawing import Shape, Text
from logbook.documents.ledger import Fact, Group, Ledger
from logbook.documents.page import BODY, SMALL, TITLE, Bitmap, Run, Sheet
from logbook.documents.sections import Sections
from logbook.documents.typeface import LETTERS_NOTE, printable, register, width
from logbook.records.sealed import SealedRecord
from logbook.rules.facts import Snapshot

CODE_VERSION, CODE_MASK = 5, 3
"""Of the seal's code: fixed, so that the same seal draws the same modules, and quickly."""

CODE_SIDE = 54.0
"""In points: 1.46 a module, 0.51 mm."""

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
    reason: str
    sealed_at: datetime

    @classmethod
    def of(cls, later: SealedRecord) -> Amended:
        """Return what a later sealed record, an amendment, is named by."""
        reason = later.snapshot.amends.reason if later.snapshot.amends else ""
        return cls(number=later.number, reason=reason, sealed_at=later.sealed_at)


def render_record(
    sealed: SealedRecord, *, amended_by: Sequence[Amended] = (), paper: str = "letter"
) -> bytes:
    """Return the PDF of a sealed record.

    Args: amended_by, the later records that correct it, in order; paper, "letter" or "a4".
    """
    register()
    out = io.BytesIO()
    sheet = lay_out(sealed, amended_by=amended_by, paper=paper)
    canvas = Canvas(out, pagesize=(sheet.width, sheet.height), invariant=1, lang="en-US")
    snapshot = sealed.snapshot
    canvas.setTitle(f"{_number(sealed)}: {_field(snapshot)}, {_day(snapshot)}")
    canvas.setAuthor(snapshot.business.name)
    canvas.setSubject(f"Spray application record for {_customer(snapshot)}")
    canvas.setKeywords(["spray application record", f"seal {sealed.link}"])
    canvas.setCreator(sealed.software)
    canvas.setViewerPreference("DisplayDocTitle", "true")
    stamp = sealed.sealed_at.astimezone(UTC)
    canvas.setDateFormatter(lambda *_: f"D:{stamp:%Y%m%d%H%M%S}Z")
    sheet.paint(canvas, lambda page, pages: _furniture(sheet, sealed, page, pages))
    canvas.save()
    return out.getvalue()


def lay_out(sealed: SealedRecord, *, amended_by: Sequence[Amended], paper: str) -> Sheet:
    """Return the pages of a sealed record, not yet painted."""
    sheet = Sheet(paper)
    ledger = Ledger(sheet, sealed.findings)
    _amended_at_the_top(ledger, sealed, amended_by)
    Sections(sheet, sealed).put_all()
    _amendments(ledger, sealed, amended_by)
    _signature(ledger, sealed)
    return sheet


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


def _number(sealed: SealedRecord) -> str:
    return f"Application record no. {sealed.number}"


def _field(snapshot: Snapshot) -> str:
    return snapshot.field.name if snapshot.field else "field blank"


def _customer(snapshot: Snapshot) -> str:
    return snapshot.customer.name if snapshot.customer else "customer blank"


def _day(snapshot: Snapshot) -> str:
    day = snapshot.local_day()
    return day.isoformat() if day else "day blank"


def _furniture(sheet: Sheet, sealed: SealedRecord, page: int, pages: int) -> Iterator[Shape]:
    """Yield the head and the foot that every page repeats."""
    snapshot = sealed.snapshot
    left, right = sheet.left, sheet.right
    title, pages_of = _number(sealed), f"page {page} of {pages}"
    room = right - left - width(title, TITLE, True) - 12.0
    yield Text(left, 29.0, title, TITLE, bold=True)
    business = _shortened(snapshot.business.name, room, BODY, bold=True)
    yield Text(right, 29.0, business, BODY, anchor="end", bold=True)
    room = right - left - width(pages_of, BODY) - 12.0
    where = _shortened(f"{_field(snapshot)} · {_day(snapshot)}", room, BODY)
    yield Text(left, 40.0, where, BODY)
    yield Text(right, 40.0, pages_of, BODY, "quiet", "end")
    foot = sheet.height - 19.0
    yield Text(left, foot, f"seal {sealed.link}", SMALL, "quiet")


def _shortened(text: str, room: float, size: float, *, bold: bool = False) -> str:
    """Return a name as the head has room for it; the whole of it stands in the ledger."""
    text = printable(" ".join(text.split()))
    if width(text, size, bold) <= room:
        return text
    while text and width(f"{text}…", size, bold) > room:
        text = text[:-1]
    return f"{text.rstrip()}…"


def _amended_at_the_top(
    ledger: Ledger, sealed: SealedRecord, amended_by: Sequence[Amended]
) -> None:
    """Say before all else that this record is corrected or corrects another."""
    amends = sealed.snapshot.amends
    if amended_by:
        told = f"Corrected since: record no. {amended_by[-1].number} holds in place of this one."
        ledger.text(Run(told, "breach", True), size=BODY)
    if amends is not None:
        told = f"Corrects record no. {amends.number}: "
        ledger.text(Run(told, bold=True), Run(amends.reason), size=BODY)


def _amendments(ledger: Ledger, sealed: SealedRecord, amended_by: Sequence[Amended]) -> None:
    amends, zone = sealed.snapshot.amends, sealed.snapshot.zone
    if amends is None and not amended_by:
        return
    ledger.sheet.section("Amendments", keep=30.0)
    facts = []
    if amends is not None:
        corrected = f"record no. {amends.number}, link {amends.seal_sha256}. Reason: "
        facts.append(Fact("Corrects", (Run(corrected), *words.said(amends.reason))))
        changes = [(Run(change),) for change in amends.changes] or [(Run("no entry differs"),)]
        facts.append(Fact("What changed", words.lines(*changes)))
    for later in amended_by:
        when = words.local(later.sealed_at, zone)
        corrects = f"record no. {later.number}, sealed {when}. Reason: "
        facts.append(Fact("Corrected by", (Run(corrects), *words.said(later.reason))))
    ledger.facts(facts, room=ledger.room)


def _signature(ledger: Ledger, sealed: SealedRecord) -> None:
    sheet, zone = ledger.sheet, sealed.snapshot.zone
    sheet.section("Signature", keep=CODE_SIDE + 24.0)
    signed_at = (
        Run(words.local(sealed.sealed_at, zone)),
        *words.quiet(f", sealed with {sealed.software}"),
    )
    facts = [
        Fact("Signed by", (Run(sealed.signer_name, bold=True), Run(f", {sealed.signer_role}"))),
        Fact("Signed at", signed_at),
    ]
    hashes = [
        Fact("Leaf", (Run(sealed.leaf), *words.quiet(" of this record"))),
        Fact("Previous link", (Run(sealed.previous),)),
        Fact("Link", (Run(sealed.link), *words.quiet(" of both; in the code with the number"))),
    ]
    code = Bitmap(CODE_SIDE, code_of(sealed))
    ledger.facts_beside([Group(facts, (0.36, 0.64)), Group(hashes)], code)
    sheet.y += 2.0
    cautions = (CAUTIONS, NOT_KNOWN, *([LETTERS_NOTE] if sheet.replaced else []))
    ledger.text(*words.quiet(" ".join(cautions)), size=SMALL)
