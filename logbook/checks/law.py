"""Checks of what the law asks to be recorded: each element, and the format of the place."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields

from logbook.checks.core import RECORD_ELEMENTS, Finding, Severity, check
from logbook.checks.requirements import Requirements
from logbook.facts.duty import DutySet, Each, LocationFormat, When
from logbook.facts.messages import joined, msg, term
from logbook.facts.record import FieldFacts, ProductFacts, RecordFacts, Snapshot, WeatherFacts
from logbook.facts.wording import either, listed
from logbook.law.applicability import (
    Outcome,
    Row,
    applicable,
    blank_rows,
    lacking_formats,
)
from logbook.law.cautions import CONFIRM, source_words
from logbook.law.elements import formats_of, licence_holders


@check(
    RECORD_ELEMENTS,
    title=msg("every element that the record law of the place and the day asks for"),
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
        what = listed(term(row.element.title) for row in rows)
        by = listed(row.applied.duty_set.title for row in missing or rows)
        sentence = msg(
            "Not in the record: {elements}; {sets} may ask for it, {confirm}.",
            elements=what,
            sets=by,
            confirm=term(CONFIRM),
        )
        if missing:
            sentence = msg(
                "Not in the record: {elements}; asked for by {sets}.", elements=what, sets=by
            )
        yield record_elements.finding(
            Severity.MISSING if missing else Severity.CAUTION,
            about=path,
            sentence=sentence,
            basis=listed(source_words(row.applied.duty_set, row.asked) for row in rows),
            settle=_settle(path),
        )


WORD_TAKERS = frozenset(
    one.name
    for facts in (RecordFacts, ProductFacts, WeatherFacts, FieldFacts)
    for one in fields(facts)
    if one.type == "Answer"
)
"""The facts that may be answered with a word in place of a quantity."""


def _settle(path: str) -> str:
    if path.startswith("statements") or path.rpartition(".")[2] in WORD_TAKERS:
        return msg("Enter it; where there is nothing to enter, write “none” or “not applicable”.")
    return msg(
        "Enter it. No word can stand in its place there: where there is nothing to enter, say so "
        "beside this finding when you sign."
    )


@check(
    "location-format",
    title=msg("the place stated in a format that the law accepts"),
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
    wants = joined(
        "; ",
        (
            msg("{set} accepts {formats}", set=one.duty_set.title, formats=_either(rule.one_of))
            for one, rule in firm or lacking
        ),
    )
    sentence = msg(
        "The place is stated as {formats}, but {wants}.",
        formats=listed(term(one.value) for one in formats_of(s)),
        wants=wants if firm else joined("; ", (wants, term(CONFIRM))),
    )
    yield location_format.finding(
        Severity.MISSING if firm else Severity.CAUTION,
        about="field.locations",
        sentence=sentence,
        basis=listed(source_words(one.duty_set, rule) for one, rule in lacking),
        settle=msg("Add the place to the field in an accepted format."),
    )


@check(
    "one-record-each",
    title=msg("one record for each day and each licensee, where the law wants it so"),
    about=("started_at", "finished_at", "applicator", "crew"),
)
def one_record_each(s: Snapshot) -> Iterator[Finding]:
    """Yield a breach where the work went over days of which each wants a record of its own.

    That each licensee keeps a record cannot be seen in this one, so it is a caution.
    """
    _where_and_when(s)
    for one in applicable(s):
        for each in one.duty_set.one_each:
            yield from _ONE_EACH[each](s, one.duty_set)


def _one_a_day(s: Snapshot, duty_set: DutySet) -> Iterator[Finding]:
    ask = Requirements()
    started = ask.fact(s.record.started_at, "started_at")
    finished = ask.fact(s.record.finished_at, "finished_at")
    ask.done()
    if started is None or finished is None:
        return
    first, last = (instant.astimezone(s.zone).date() for instant in (started, finished))
    if first == last:
        return
    yield one_record_each.finding(
        Severity.BREACH if duty_set.how_read.firm else Severity.CAUTION,
        about="finished_at",
        sentence=msg(
            "The work began on {first} and ended on {last}; {set} wants a record for each place "
            "and each day, with the area of that day.",
            first=first,
            last=last,
            set=duty_set.title,
        ),
        basis=source_words(duty_set),
        settle=msg(
            "End this record on {first}, and resume the job in a record of its own.", first=first
        ),
    )


def _one_a_licensee(s: Snapshot, duty_set: DutySet) -> Iterator[Finding]:
    holders = licence_holders(s)
    if len(holders) < 2:
        return
    yield one_record_each.finding(
        Severity.CAUTION,
        about="crew",
        sentence=msg(
            "{names} hold licences and share this job; {set} wants each of them to keep a record.",
            names=listed(holders),
            set=duty_set.title,
        ),
        basis=source_words(duty_set),
        settle=msg("See that each of them keeps a record of the job, or a copy of this one."),
    )


_ONE_EACH = {Each.DAY: _one_a_day, Each.LICENSEE: _one_a_licensee}


def _either(formats: tuple[LocationFormat, ...]) -> str:
    return either(term(one.value) for one in formats)


def _where_and_when(s: Snapshot) -> None:
    """Raise what is blank of the place and the day, without which no law can be named."""
    ask = Requirements()
    ask.fact(s.local_day(), "started_at")
    ask.fact(s.field, "field")
    ask.done()
