"""The posting sheet: what is shown where workers see it, in large print."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime

from django.utils.translation import gettext as _

from logbook.checks.assessment import assess
from logbook.documents import duties, words
from logbook.documents.file import to_pdf
from logbook.documents.ledger import BETWEEN, Fact, Ledger
from logbook.documents.page import NBSP, Column, Placed, Row, Run, Runs, Sheet
from logbook.documents.sketch import field_sketch, mean_wind_from
from logbook.documents.source import Source, printed_words, put_deliveries
from logbook.errors.exceptions import Refused
from logbook.facts.duty import Role
from logbook.facts.intervals import intervals
from logbook.facts.record import ProductFacts, Snapshot
from logbook.facts.wording import listed
from logbook.law.applicability import Applied, applicable
from logbook.law.retention import shown_until
from logbook.localization.locale import plain_english
from logbook.sections import phrases
from logbook.sections.lines import document

LARGE, FINE = 13.0, 8.6
"""Body and small type: to be read from a step away."""

ALARM = 21.0

SKETCH = {"width": 300.0, "height": 190.0, "size": 11.0}

NOT_THE_SIGN = (
    "This sheet does not stand in for a warning sign that the label or the law asks for at the "
    "field. The label decides who may enter, when, and with what protection."
)

# 40 CFR 170.309(h) and 170.311, read in summaries: the farm shows the safety data sheets too.
DATA_SHEETS = "Show the safety data sheet of each product beside this sheet where the law asks it."

READ_THE_LABEL = "Read the labels before anybody enters."
PLANNED = "Planned: made from a draft. Print it again when the work has ended."


@plain_english()
def posting_sheet(source: Source, *, paper: str = "letter") -> bytes:
    """Return the PDF of the posting sheet: the treated area, times, re-entry, how long it is shown.

    Args: source, a sealed record, or a draft while the work is still planned; paper, "letter" or
    "a4".
    Raises: Refused where a text has letters that the print type lacks: workers read this sheet.
    """
    s = source.facts
    sheet = Sheet(paper, type_sizes=(LARGE, FINE))
    ledger = Ledger(sheet)
    sheet.y += 8.0
    for line in _keep_out(s):
        ledger.text(Run(line, bold=True), size=ALARM)
    _intervals(ledger, s)
    if planned := _is_planned(source):
        ledger.text(Run(PLANNED, "breach", True))
    sheet.y += 6.0
    _area(ledger, s)
    sheet.section("Sprayed", keep=60.0)
    _lines(ledger, _times(s, planned=planned))
    sheet.section("Products", keep=60.0)
    _products(ledger, s)
    _warnings(ledger, s)
    sheet.section("For whom, by whom", keep=40.0)
    business, customer = document(s, assess(s)).lines("business", "customer")
    named = (("Farm", customer), ("Sprayed by", business))
    _lines(ledger, [words.fact(line, s, name=name) for name, line in named])
    sheet.y += 4.0
    # The farm shows it: the sets that speak to an employer of workers count here.
    read = duties.sources([one for one in _shown_by(s) if one.duty_set.display])
    cautions = [NOT_THE_SIGN, DATA_SHEETS, f"Read: {read}." if read else "", duties.CAUTIONS]
    ledger.text(*words.quiet(" ".join(filter(None, cautions))), size=FINE)
    _shown(ledger, source)
    _refuse_letters_that_do_not_print(sheet)
    return to_pdf(sheet, source.about("Posting sheet", "Posting of a treated area"))


def _is_planned(source: Source) -> bool:
    """Return whether the work is not over yet when the sheet is printed, as far as it is known."""
    finished = source.facts.record.finished_at
    return source.number is None and (finished is None or finished > source.printed)


def _shown(ledger: Ledger, source: Source) -> None:
    """Put when the sheet was printed, and what is written down of its being shown."""
    zone = source.facts.zone
    if source.given:
        put_deliveries(ledger, source.given, zone)
    told = "" if source.given else " That it was put up is not written down yet."
    ledger.text(*words.quiet(printed_words(source.printed, zone) + told), size=FINE)


def _refuse_letters_that_do_not_print(sheet: Sheet) -> None:
    """Raise Refused naming the texts whose letters the print type lacks."""
    if sheet.replaced:
        lacking = "”, “".join(sorted(sheet.lacking))
        raise Refused(
            f"The print type has no letters for “{lacking}”, and a sheet that workers read shows "
            "no numbers in their place. Write it in Latin, Greek or Cyrillic letters where it is "
            "kept, or post a sheet in your own hand."
        )


def _keep_out(s: Snapshot) -> tuple[str, str]:
    """Return until when the area is closed, or why that is not known, in two lines."""
    found = intervals(s)
    if found.entry_from is not None:
        return "Treated area: keep out until", words.local(found.entry_from, s.zone)
    ended = s.record.finished_at
    why = "no label on file sets an interval" if ended else "the end of the spraying is blank"
    return "Treated area: keep out", f"Until when is not known: {why}"


def _intervals(ledger: Ledger, s: Snapshot) -> None:
    """Put whose interval counts, and the products that were not counted."""
    found, told = intervals(s), READ_THE_LABEL
    if found.entry_from:
        told = f"The longest interval of the mix, that of {found.entry_product}."
    ledger.text(Run(told))
    if left_out := words.begun(phrases.not_counted(s)):
        told = f"{left_out}. Read that label first."
        ledger.text(Run(told, "breach", True))


def _area(ledger: Ledger, s: Snapshot) -> None:
    """Put the treated area with its sketch below."""
    sheet = ledger.sheet
    sheet.section("Area", keep=80.0)
    shown = document(s, assess(s))
    lines = shown.lines("field", "crop", "treated_area")
    _lines(ledger, [words.fact(line, s) for line in lines])
    if s.field is None or s.field.boundary is None:
        return
    drawing = field_sketch(
        s.field.boundary,
        name=s.field.name,
        wind_from_deg=mean_wind_from(s.weather),
        system=s.system,
        **SKETCH,
    )
    sheet.need(drawing.height + 6.0)
    sheet.put(Placed(sheet.left + (ledger.room - drawing.width) / 2.0, sheet.y + 4.0, drawing))
    sheet.y += drawing.height + 8.0


def _times(s: Snapshot, *, planned: bool) -> Iterator[Fact]:
    yield Fact("Planned start" if planned else "Started", _time(s, s.record.started_at))
    yield Fact("Planned end" if planned else "Finished", _time(s, s.record.finished_at))
    until = shown_until(s, _shown_by(s)) if s.record.finished_at else None
    shown: Runs = words.quiet("as your authority and the label say; no set that is carried says it")
    if s.record.finished_at is None:
        shown = words.quiet("not computed: the end of the spraying is blank")
    elif until is not None:
        shown = (Run(until.isoformat(), bold=True),)
    yield Fact("Shown until", shown)


def _time(s: Snapshot, instant: datetime | None) -> Runs:
    return words.at_field(instant, s.zone)


def _shown_by(s: Snapshot) -> tuple[Applied, ...]:
    return applicable(s, role=Role.EMPLOYER)


def _products(ledger: Ledger, s: Snapshot) -> None:
    rows = [Row(tuple(_product(one))) for one in s.products]
    if not rows:
        _lines(ledger, [Fact("Products", (words.BLANK,))])
        return
    shares = (("Product", 0.34), ("Registration no.", 0.2), ("Active ingredients", 0.3))
    columns = ledger.columns((*shares, ("Re-entry", 0.16)))
    ledger.sheet.table(columns, rows, size=11.0, gap=3.0, ruled=True)


def _product(one: ProductFacts) -> Iterator[Runs]:
    yield (Run(one.name, bold=True),)
    yield words.text_or_blank(one.registration_number)
    if one.label is None:
        yield from ((words.BLANK,),) * 2
        return
    yield words.text_or_blank(", ".join(each.name for each in one.label.ingredients))
    hours = one.label.reentry_hours
    yield (Run("none on file" if hours is None else f"{phrases.trimmed(hours)}{NBSP}h"),)


def _warnings(ledger: Ledger, s: Snapshot) -> None:
    """Put which labels ask for both warnings, so that the sheet is not taken for the spoken one.

    40 CFR 156.210(b)(1) has the label say so; 40 CFR 170.409(a) then asks for both.
    """
    both = [one.name for one in s.products if one.label and one.label.worker_warning == "both"]
    if both:
        told = _(
            "The label of %(products)s asks for both: warn every worker orally, and post signs at "
            "the entrances. This sheet is neither."
        ) % {"products": listed(both)}
        ledger.text(Run(told, bold=True))


def _lines(ledger: Ledger, lines: Iterable[Fact]) -> None:
    """Put names left of values, in large print."""
    name = 108.0
    start = ledger.sheet.left + name + BETWEEN
    columns = [Column(ledger.sheet.left, name), Column(start, ledger.sheet.right - start)]
    rows = [Row((words.quiet(one.name), one.value)) for one in lines]
    ledger.sheet.table(columns, rows, gap=2.0)
