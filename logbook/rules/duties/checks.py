"""Checks of what the law asks to be recorded: each element, and the format of the place."""

from __future__ import annotations

from collections.abc import Iterator

from logbook.rules.ask import Asking
from logbook.rules.core import RECORD_ELEMENTS, Finding, Severity, check
from logbook.rules.duties.apply import (
    Outcome,
    Row,
    blank_rows,
    lacking_formats,
)
from logbook.rules.duties.cautions import CONFIRM, source_words
from logbook.rules.duties.elements import formats_of
from logbook.rules.duties.model import LocationFormat, When
from logbook.rules.facts import Snapshot
from logbook.rules.wording import listed


@check(
    RECORD_ELEMENTS,
    title="every element that the record law of the place and the day asks for",
    about=(
        *("customer", "applicator", "supervisor", "field.locations", "crop", "products"),
        *("started_at", "finished_at", "treated_area", "weather", "rig", "nozzle", "statements"),
    ),
)
def record_elements(s: Snapshot) -> Iterator[Finding]:
    """Yield a finding for each blank fact, with the elements that would stand there.

    An element from legal text or an agency's page is missing; one that is known from memory or a
    summary only, or that the record cannot tell to apply, is a caution.
    """
    _where_and_when(s)
    by_path: dict[str, list[Row]] = {}
    for row in blank_rows(s):
        for path in row.stand.blank:
            by_path.setdefault(path, []).append(row)
    for path, rows in by_path.items():
        missing = [row for row in rows if row.outcome is Outcome.MISSING]
        what = listed(row.element.title for row in rows)
        by = listed(row.applied.duty_set.title for row in missing or rows)
        if missing:
            sentence = f"Not in the record: {what}; asked for by {by}."
        else:
            sentence = f"Not in the record: {what}; {by} may ask for it, {CONFIRM}."
        yield record_elements.finding(
            Severity.MISSING if missing else Severity.CAUTION,
            about=path,
            sentence=sentence,
            basis=listed(source_words(row.applied.duty_set, row.asked) for row in rows),
            settle="Enter it; where there is nothing to enter, write “none” or “not applicable”.",
        )


@check(
    "location-format",
    title="the place stated in a format that the law accepts",
    about=("field.locations", "field.boundary"),
)
def location_format(s: Snapshot) -> Iterator[Finding]:
    """Yield one finding with every set whose formats none of the record's is."""
    _where_and_when(s)
    lacking = lacking_formats(s)
    if not lacking:
        return
    firm = [
        one for one in lacking if one[1].how_read.firm and one[1].when is not When.WHERE_IT_APPLIES
    ]
    wants = "; ".join(
        f"{one.duty_set.title} accepts {_either(rule.one_of)}" for one, rule in firm or lacking
    )
    yield location_format.finding(
        Severity.MISSING if firm else Severity.CAUTION,
        about="field.locations",
        sentence=f"The place is stated as {listed(formats_of(s))}, but {wants}"
        f"{'' if firm else f'; {CONFIRM}'}.",
        basis=listed(source_words(one.duty_set, rule) for one, rule in lacking),
        settle="Add the place to the field in an accepted format.",
    )


def _either(formats: tuple[LocationFormat, ...]) -> str:
    return " or ".join(one.value for one in formats)


def _where_and_when(s: Snapshot) -> None:
    """Raise what is blank of the place and the day, without which no law can be named."""
    ask = Asking()
    ask.fact(s.local_day(), "started_at")
    ask.fact(s.field, "field")
    ask.done()
