"""The totals by product over a period, on paper."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from logbook import __version__
from logbook.documents import words
from logbook.documents.file import About, to_pdf
from logbook.documents.ledger import Fact, Ledger
from logbook.documents.page import NBSP, Row, Run, Runs, Sheet
from logbook.documents.typeface import LETTERS_NOTE
from logbook.localization.locale import plain_english
from logbook.records.reading.totals import NO_CONTENT, Amount, ProductTotal, Totals, remarks
from logbook.sections import phrases

TYPE_SIZES = (8.4, 7.4)
"""Body and small type: seven columns stand abreast."""


@plain_english()
def render_totals(totals: Totals, *, now: datetime, paper: str = "letter") -> bytes:
    """Return the PDF of the totals of a period.

    Args: now, the instant that the file bears; paper, "letter" or "a4".
    """
    sheet = Sheet(paper, type_sizes=TYPE_SIZES)
    ledger = Ledger(sheet)
    period = f"{totals.day_from} to {totals.day_to}"
    sheet.section("Period", keep=40.0)
    facts = [
        Fact("From, to", (Run(f"{period}, both days counted, local at the field"),)),
        Fact("Work for", (Run(totals.customer or "all customers"),)),
        Fact("Fields in", (Run(totals.place or "all places"),)),
        Fact("Done by", (Run(totals.business, bold=True),)),
    ]
    ledger.facts(facts)
    sheet.section("Totals by product", keep=60.0)
    if totals.products:
        shares = (
            *(("Product", 0.21), ("Registration no.", 0.1), ("Times", 0.06)),
            *(("As entered", 0.13), ("Label units", 0.14), ("Kilograms", 0.12)),
            ("Active ingredient", 0.24),
        )
        rows = [row for one in totals.products for row in _rows(one)]
        sheet.table(ledger.columns(shares), rows, gap=2.0, ruled=True)
    else:
        ledger.text(Run("No signed record lies in this period: nothing was used."))
    sheet.y += 4.0
    told = [*remarks(totals), *([LETTERS_NOTE] if sheet.replaced else [])]
    ledger.text(*words.quiet(" ".join(told)), size=sheet.small)
    about = About(
        name="Totals by product",
        business=totals.business,
        where=(totals.customer or "all customers", period),
        foot=f"made {now:%Y-%m-%d %H:%M} UTC by spray-logbook {__version__}",
        subject=f"Totals by product, {period}",
        keywords=("totals by product",),
        software=f"spray-logbook {__version__}",
        dated=now,
    )
    return to_pdf(sheet, about)


def _rows(one: ProductTotal) -> Iterator[Row]:
    """Yield the row of a product, and below it the records that gave no total."""
    entered = [words.entered(each) for each in one.entered] or [words.quiet("no total entered")]
    yield Row(
        (
            (Run(one.name, bold=True),),
            words.text_or_blank(one.registration_number),
            (Run(str(one.applications)),),
            words.lines(*entered),
            _amount(one.label_units),
            _amount(one.kilograms),
            words.lines(*_actives(one)) or words.quiet(NO_CONTENT),
        )
    )
    if one.left_out:
        told = f"Not counted: {'; '.join(one.left_out)}."
        yield Row((words.quiet(told),), spans=True)


def _amount(amount: Amount) -> Runs:
    """Return a total with its unit, or in words why there is none."""
    if amount.value is None:
        return words.quiet(amount.note)
    shown = (Run(phrases.trimmed(amount.value)), *words.quiet(f"{NBSP}{words.kept(amount.unit)}"))
    return words.lines(shown, words.quiet(amount.note)) if amount.note else shown


def _actives(one: ProductTotal) -> Iterator[Runs]:
    for active in one.actives:
        yield (Run(f"{active.name}: "), *_amount(active.kilograms))
        if active.acid_equivalent is not None:
            yield (*words.quiet("acid equivalent "), *_amount(active.acid_equivalent))
