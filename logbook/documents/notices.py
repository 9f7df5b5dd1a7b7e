"""Notices to the farm: before the work, and of the completed application."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from logbook.checks.assessment import assess
from logbook.documents import duties, words
from logbook.documents.drawing import Drawing
from logbook.documents.file import to_pdf
from logbook.documents.ledger import Fact, Ledger
from logbook.documents.page import NBSP, ROOMY, Row, Run, Runs, Sheet
from logbook.documents.sketch import field_sketch, mean_wind_from
from logbook.documents.source import Source, printed_words, put_deliveries
from logbook.documents.typeface import LETTERS_NOTE
from logbook.errors.exceptions import Refused
from logbook.facts.duty import Kind, LocationFormat
from logbook.facts.record import ProductFacts, Snapshot
from logbook.law.applicability import Applied, applicable
from logbook.localization.locale import plain_english
from logbook.sections import phrases
from logbook.sections.document import Document
from logbook.sections.lines import document, waiting

SKETCH = {"width": 170.0, "height": 120.0, "size": ROOMY[1]}

BEFORE, AFTER = "Notice before spraying", "Notice of completed application"

GIVEN_LATE = (
    "Given late: the work had begun when this was printed. The times below are those of the work "
    "as entered, not of a plan told beforehand."
)

# Worker protection standard of the United States, 40 CFR 170.313, as the agency's fact sheet
# EPA305-F-01-010 puts it; the duty set tells how and when it was read.
CHANGES = (
    "A change before the start, of the place, the time, the product or what the label asks, goes "
    "to the farm before the start. Any other change goes to the farm within 2 hours after the end. "
    "An end that shifts by less than 1 hour needs no notice."
)
CHANGES_SET = "us-40-cfr-170"

EVERY_LABEL = (
    "Other limits of the labels for the protection of workers and others, protective equipment "
    "for early entry among them, stand on the labels in hand. The labels decide."
)


@plain_english()
def notice_before(source: Source, *, paper: str = "letter") -> bytes:
    """Return the PDF of the notice that goes to the farm before the work.

    Content as the worker protection standard of the United States asks it, 40 CFR 170.313: place
    and description of the area, date, start and estimated end, product, registration number, active
    ingredients, re-entry interval, oral and posted warning, other limits of the label.
    Once the work has begun it is headed as given late, with the times of the work.
    Args: source, usually a draft: what is blank is said to be blank; paper, "letter" or "a4".
    """
    s = source.facts
    sheet = Sheet(paper, type_sizes=ROOMY)
    ledger = Ledger(sheet)
    applied = applicable(s)
    assessment = assess(s)
    shown = document(s, assessment)
    if source.begun:
        ledger.text(Run(GIVEN_LATE, "breach", True))
    _parties(ledger, shown)
    _where(ledger, shown)
    sheet.section("When", keep=40.0)
    entry, _harvest = waiting(s)
    start = words.at_field(s.record.started_at, s.zone)
    facts = [
        Fact("Started" if source.begun else "Planned start", start),
        Fact(_end_is_called(source), words.at_field(s.record.finished_at, s.zone)),
        words.fact(entry, s),
    ]
    ledger.facts(facts)
    _products(ledger, s.products)
    sheet.section("What the labels ask of the farm", keep=40.0)
    warnings = [_warning(product) for product in s.products if product.kind not in NO_WARNING]
    if warnings:
        shares = (("Product", 0.36), ("Warning of workers", 0.64))
        sheet.table(ledger.columns(shares), warnings, gap=2.0)
    # Wyoming (ch. 28 s. 12) wants residue hazards and precautions told to the customer beforehand.
    if precautions := s.record.statements.get("precautions", ""):
        ledger.facts([Fact("Precautions", words.text_or_blank(precautions))])
    ledger.text(
        *words.quiet(" ".join((*assessment.statements, EVERY_LABEL))), size=ledger.sheet.small
    )
    sheet.section("If something changes", keep=40.0)
    ledger.text(Run(_changes(applied)))
    duties.put_due(ledger, s, applied, Kind.NOTICE_BEFORE)
    _given(ledger, source)
    _cautions(ledger, applied)
    name = f"{BEFORE}, given late" if source.begun else BEFORE
    return to_pdf(sheet, source.about(name, "Notice before spraying"))


@plain_english()
def notice_completed(source: Source, *, paper: str = "letter") -> bytes:
    """Return the PDF of the notice of completed application.

    Content as California asks it, 3 CCR 6619: location with site number and acreage, product,
    registration number, active ingredients, adjuvants with their number, dates and times started
    and ended, re-entry and pre-harvest interval.
    Raises: Refused while the end of the spraying is blank.
    """
    s = source.facts
    if s.record.finished_at is None:
        raise Refused(
            "The end of the spraying is blank; a notice of completed application states it. "
            "Enter the end first."
        )
    sheet = Sheet(paper, type_sizes=ROOMY)
    ledger = Ledger(sheet)
    applied = applicable(s)
    shown = document(s, assess(s))
    _parties(ledger, shown)
    _where(ledger, shown)
    sheet.section("When", keep=40.0)
    facts = [
        Fact("Started", words.at_field(s.record.started_at, s.zone)),
        Fact("Finished", words.at_field(s.record.finished_at, s.zone)),
        *(words.fact(line, s) for line in waiting(s)),
    ]
    ledger.facts(facts)
    adjuvants = [product for product in s.products if product.kind == ADJUVANT]
    _products(ledger, [product for product in s.products if product.kind != ADJUVANT])
    _adjuvants(ledger, adjuvants)
    duties.put_due(ledger, s, applied, Kind.NOTICE_AFTER)
    _given(ledger, source)
    _cautions(ledger, applied)
    return to_pdf(sheet, source.about(AFTER, "Notice of completed application"))


ADJUVANT = "adjuvant"
NO_WARNING = (ADJUVANT, "fertilizer")
"""Kinds of product whose labels carry no warning to workers of that kind."""


def _parties(ledger: Ledger, shown: Document) -> None:
    ledger.sheet.section("To and from", keep=40.0)
    business, customer, applicator = shown.lines("business", "customer", "applicator")
    named = (("To", customer), ("From", business), ("Sprays", applicator))
    ledger.facts([words.fact(line, shown.facts, name=name) for name, line in named])


def _where(ledger: Ledger, shown: Document) -> None:
    """Put the place and description of the area, beside its sketch."""
    s = shown.facts
    drawing: Drawing | None = None
    if s.field is not None and s.field.boundary is not None:
        drawing = field_sketch(
            s.field.boundary,
            name=s.field.name,
            wind_from_deg=mean_wind_from(s.weather),
            system=s.system,
            **SKETCH,
        )
    ledger.sheet.section("Where", keep=drawing.height if drawing else 40.0)
    lines = shown.lines("field", "crop", "growth_stage", "treated_area")
    facts = [words.fact(line, s) for line in lines]
    site = Fact("Site number", words.text_or_blank(_site_number(s)))
    ledger.facts_beside([*facts, site], drawing)


def _site_number(s: Snapshot) -> str:
    """Return the number that an authority gave the field, as stated or as one of its places."""
    parcels = (
        place.text
        for place in (s.field.locations if s.field else ())
        if place.kind == LocationFormat.PARCEL
    )
    return s.record.statements.get("government-id", "") or next(parcels, "")


def _products(ledger: Ledger, products: Iterable[ProductFacts]) -> None:
    ledger.sheet.section("What", keep=50.0)
    shares = (
        *(("Product", 0.27), ("Registration no.", 0.15), ("Active ingredients", 0.32)),
        *(("Re-entry interval", 0.13), ("Before harvest", 0.13)),
    )
    rows = [Row(tuple(_product(one))) for one in products]
    if rows:
        ledger.sheet.table(ledger.columns(shares), rows, gap=2.0, ruled=True)
    else:
        ledger.facts([Fact("Products", (words.BLANK,))])


def _product(one: ProductFacts) -> Iterator[Runs]:
    label = one.label
    restricted = (
        Run(f", {phrases.RESTRICTED_USE}", bold=True) if label and label.restricted_use else Run("")
    )
    yield (Run(one.name, bold=True), restricted)
    yield words.text_or_blank(one.registration_number)
    if label is None:
        yield from ((words.BLANK,),) * 3
        return
    yield words.text_or_blank(
        "; ".join(words.printed(phrases.ingredient(each)) for each in label.ingredients)
    )
    hours, days = label.reentry_hours, label.preharvest_days
    yield (Run("none on file" if hours is None else f"{phrases.trimmed(hours)}{NBSP}h"),)
    yield (Run("none on file" if days is None else f"{days}{NBSP}d"),)


def _adjuvants(ledger: Ledger, adjuvants: Iterable[ProductFacts]) -> None:
    """Put the adjuvants: where they are registered, as in California, each has its number."""
    ledger.sheet.section("Adjuvants", keep=40.0)
    rows = [
        Row(
            (
                (Run(one.name, bold=True),),
                words.text_or_blank(one.registration_number),
                (Run(", ".join(one.adjuvant_functions) or "function blank"),),
            )
        )
        for one in adjuvants
    ]
    if not rows:
        ledger.text(Run("none"))
        return
    shares = ("Adjuvant", 0.35), ("State number", 0.20), ("Function", 0.45)
    ledger.sheet.table(ledger.columns(shares), rows, gap=2.0, ruled=True)


TICK = Run("■", "ground", drawn="swatch")
"""An empty box to tick by hand."""


def _warning(product: ProductFacts) -> Row:
    """Return whether the label asks for both warnings; boxes to tick where that is not on file.

    Where the edition on file does not say it, a guess would be worse than a box.
    """
    on_file = product.label.worker_warning if product.label else ""
    if on_file:
        both = on_file == "both"
        told = "asks for both oral and posted warning" if both else "does not ask for both warnings"
        by = f", by the label edition {product.label.edition}" if product.label else ""
        return Row(((Run(product.name),), (Run(told, bold=both), *words.quiet(by))))
    asked = Run(f" asks for both oral and posted warning{NBSP * 4}")
    not_asked = Run(" does not ask for both")
    ticks = (TICK, asked, TICK, not_asked, *words.quiet(", by the label in hand"))
    return Row(((Run(product.name),), ticks))


def _changes(applied: Iterable[Applied]) -> str:
    source = duties.sources([one for one in applied if one.duty_set.id == CHANGES_SET])
    if source:
        return f"{CHANGES} {source}."
    return (
        f"{CHANGES} This is the rule of the United States (40 CFR 170.313); whether one like it "
        "holds for this place or these products was not found."
    )


def _end_is_called(source: Source) -> str:
    if not source.begun:
        return "Planned end"
    finished = source.facts.record.finished_at
    over = source.number is not None or (finished is not None and finished <= source.printed)
    return "Finished" if over else "Planned end"


def _given(ledger: Ledger, source: Source) -> None:
    """Put to whom it was given, when and how; where nothing is written down, lines to fill in."""
    ledger.sheet.section("Given", keep=50.0)
    if source.given:
        put_deliveries(ledger, source.given, source.facts.zone)
    else:
        told = "Nothing is written down yet of its being given; write here, then in the book."
        ledger.text(*words.quiet(told), size=ledger.sheet.small)
        ledger.blanks(("Given by", "To", "On, at", "How"))
    told = printed_words(source.printed, source.facts.zone)
    ledger.text(*words.quiet(told), size=ledger.sheet.small)


def _cautions(ledger: Ledger, applied: tuple[Applied, ...]) -> None:
    """Put what a reader has to know of the reading of the law, and of letters."""
    sheet = ledger.sheet
    sheet.y += 4.0
    read = duties.sources(applied)
    told = [f"Read: {read}." if read else "", duties.CAUTIONS]
    told += [LETTERS_NOTE] if sheet.replaced else []
    ledger.text(*words.quiet(" ".join(filter(None, told))), size=ledger.sheet.small)
