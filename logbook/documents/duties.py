"""What the law asks on paper: for each set, asked for by whom, and how it stands.

Nothing here is law: each set is shown with how its wording was read and when, and what was not
read in the law or at its authority is to be confirmed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from logbook.documents import words
from logbook.documents.ledger import Ledger
from logbook.documents.page import NBSP, Row, Run
from logbook.facts.duty import DutySet, HowRead, Kind, When
from logbook.facts.record import Snapshot
from logbook.facts.wording import listed
from logbook.law import applicability as apply
from logbook.law.applicability import Applied, Outcome, applicable, statement
from logbook.law.cautions import (
    AUTHORITY_PREVAILS,
    CONFIRM,
    NOT_LEGAL_ADVICE,
    doubt_words,
    source_words,
)
from logbook.law.clocks import Due, Standing, dues_of
from logbook.law.coverage import coverage, no_set_words
from logbook.law.elements import State
from logbook.law.retention import kept, period_words
from logbook.records.reading.owed import Item
from logbook.records.sealing.law import LawOf
from logbook.sections import phrases

CAUTIONS = f"{NOT_LEGAL_ADVICE} {AUTHORITY_PREVAILS}"


def sources(applied: Sequence[Applied]) -> str:
    """Return how each set is cited, how it was read and when, as one line."""
    return "; ".join(
        f"{one.duty_set.title}: {source_words(one.duty_set)}"
        + ("" if one.duty_set.how_read.firm else f", {CONFIRM}")
        for one in applied
    )


def put_duties(
    ledger: Ledger, s: Snapshot, law: LawOf | None = None, *, recorded_at: datetime
) -> None:
    """Put what each set asks for and how it stands, with the values: the state's first, federal
    ones after, labels last; then until when the record is kept.

    Args: law, as it was sealed with the record; None: the data that are carried today; recorded_at,
    when the record was made.
    """
    sets = law.sets if law else None
    lacking = words.printed(coverage(s, sets, note=False))
    applied = sorted(applicable(s, sets=sets), key=_nearest_first)
    small = ledger.sheet.small
    if not applied:
        told = " ".join(filter(None, (lacking, no_set_words(s, sets))))
        ledger.text(Run("Record law: "), *words.quiet(told), size=small)
        return
    ledger.sheet.section("", keep=90.0)
    head = Run("Asked for by law and label", bold=True)
    ledger.text(head, *((Run(f". {lacking}", bold=True),) if lacking else ()), size=small)
    rows = statement(s, sets=sets)
    told_above: set[str] = set()
    for one in applied:
        of_set = [row for row in rows if row.applied == one]
        ledger.text(*_set(s, one, of_set, told_above), size=small)
    left_out = dict.fromkeys(_name(row) for row in rows if row.outcome is Outcome.NOT_ASKED)
    if left_out:
        ledger.text(*words.quiet(f"Not asked here: {'; '.join(left_out)}."), size=small)
    ledger.text(*_kept_until(s, sets, recorded_at), size=small)
    note = (law.note,) if law else ()
    used = {
        letter for row in rows if row.outcome is not Outcome.NOT_ASKED for letter in _marks(row)
    }
    legend = "; ".join(f"{letter}, {said}" for letter, said in LEGEND.items() if letter in used)
    below = (f"{BEHIND}{legend}." if legend else "", SAME_VALUE, *note, CAUTIONS)
    ledger.text(*words.quiet(" ".join(filter(None, below))), size=small)


EVIDENCE = {
    HowRead.LEGAL_TEXT: "",
    HowRead.AGENCY_PAGE: "a",
    HowRead.SUMMARY: "s",
    HowRead.MEMORY: "m",
}
"""The letter behind an element by which it is told how the wording was read."""

BEHIND = "Behind a name: "
LEGEND = {
    "a": "read on a page of the agency",
    "s": f"read in a summary, {CONFIRM}",
    "m": f"known from memory, {CONFIRM}",
    "i": "asked if it applies",
    "n": "asked only where the state has no rule",
    "?": "whether it is asked is not settled",
    "adv": "advised",
}
"""What each letter behind an element says; without one the wording was read in the text."""

SAME_VALUE = "A name alone: its value stands with it above."


def _nearest_first(one: Applied) -> int:
    """Return the order of a set: of the state, of the nation, of a union of states, of a label."""
    duty_set = one.duty_set
    if not duty_set.place:
        return 3
    return 0 if "-" in duty_set.place else 2 if duty_set.covers else 1


def _name(row: apply.Row) -> str:
    return row.element.title.removeprefix("the ").removeprefix("a ")


def _set(s: Snapshot, one: Applied, rows: list[apply.Row], told_above: set[str]) -> Iterator[Run]:
    """Yield what one set asks, in one flow: each name, and the value where it stands first."""
    duty_set = one.duty_set
    yield Run(duty_set.title, bold=True)
    cited = "" if duty_set.citation == duty_set.title else f" {source_words(duty_set)}"
    names = listed(s.products[place].name for place in one.products)
    yield from words.quiet(f"{cited}{f', for {names}' if names else ''}. ")
    between = ""
    for row in rows:
        if row.outcome is Outcome.NOT_ASKED:
            continue
        yield from words.quiet(between)
        between = " · "
        if row.mark in ("agrees", "missing"):
            # What is to be confirmed is told by the letter.
            yield from (words.mark(row.mark), Run(NBSP))
        yield from words.quiet(f"{_name(row)}{_letters(row)}")
        value = _value(row)
        # Of a set for some of the products the value may be another one.
        key = f"{row.asked.name} {value}"
        if row.stand.state is State.MISSING:
            yield Run(" missing", "missing" if row.mark == "missing" else "quiet")
        elif key not in told_above:
            yield Run(f" {value}")
            told_above.add(key)


def _marks(row: apply.Row) -> tuple[str, ...]:
    """Return the letters of an element: how the wording was read, and when it is asked at all."""
    under = {
        Outcome.ADVISED: "adv",
        Outcome.UNSETTLED: "?",
        Outcome.NO_STATE_RULE: "n",
    }.get(row.outcome, "i" if row.asked.when is When.WHERE_IT_APPLIES else "")
    return tuple(filter(None, (EVIDENCE[row.how_read], under)))


def _letters(row: apply.Row) -> str:
    letters = ",".join(_marks(row))
    return f"{NBSP}({letters})" if letters else ""


LONGEST_VALUE = 160
"""A longer value is cut: the record above has the whole of it."""


def _value(row: apply.Row) -> str:
    """Return the value of an element as it was entered, or the word in its place."""
    value = words.printed(row.stand.value)
    if row.stand.state is not State.GIVEN:
        value = f"{row.stand.state}{f', {value}' if value else ''}"
    return value if len(value) <= LONGEST_VALUE else f"{value[: LONGEST_VALUE - 1].rstrip()}…"


def _kept_until(
    s: Snapshot, sets: tuple[DutySet, ...] | None, recorded_at: datetime
) -> Iterator[Run]:
    """Yield until when the record is kept, and by which set."""
    longest = next(iter(kept(s, recorded_at=recorded_at, sets=sets)), None)
    if longest is None:
        yield Run("Kept: no set says how long, so for good.", bold=True)
        return
    how = longest.retention.how_read
    yield Run(f"Kept until {longest.until}", bold=True)
    told = words.printed(period_words(longest.retention))
    yield from words.quiet(f" by {longest.duty_set.title}, {told} ({how}).")


def put_standing(
    ledger: Ledger, items: Sequence[Item], printed_at: datetime, zone: ZoneInfo
) -> None:
    """Put how each notice, copy and report stood when this was printed, apart from the seal."""
    ledger.sheet.section("", keep=20.0)
    runs = [
        Run("When this was printed, apart from what is sealed", bold=True),
        *words.quiet(f" ({words.local(printed_at, zone)}): "),
    ]
    for number, item in enumerate(items):
        standing = item.standing(printed_at)
        until = f", in time until {words.local(item.due, zone)}" if item.due else ""
        told = f"given {words.local(item.done_at, zone)}, " if item.done_at else ""
        if item.not_owed and not item.done_at:
            told, until = f"not owed: {item.not_owed}; ", ""
        doubt = doubt_words(item.how_read, item.obligation)
        runs += [
            Run("; " * bool(number), "quiet"),
            Run(f"{item.kind}: "),
            Run(f"{told}{standing}", "breach" if standing in LATE else "ink"),
            *words.quiet(f"{until} ({item.title}{f'; {doubt}' if doubt else ''})"),
        ]
    if not items:
        runs += words.quiet("no set that is carried names a time")
    ledger.text(*runs, Run("."), size=ledger.sheet.small)


LATE = (Standing.OVERDUE, Standing.LATE)


def put_due(ledger: Ledger, s: Snapshot, applied: tuple[Applied, ...], kind: Kind) -> None:
    """Put by when a paper is due, one line a deadline of a set that asks for it."""
    sheet = ledger.sheet
    sheet.section("Due", keep=20.0)
    rows = [
        Row((words.quiet(one.duty_set.title), (Run(_by_when(one)), *words.quiet(_why(one)))))
        for one in dues_of(applied, s)
        if one.deadline.kind is kind
    ]
    if not rows:
        ledger.text(*words.quiet("No duty set that is carried asks for it here."))
        return
    columns = ledger.columns((("Asked for by", 0.34), ("By when", 0.66)))
    sheet.table(columns, rows)


def _by_when(one: Due) -> str:
    return (
        words.local(one.due, one.zone) if one.due else words.printed(phrases.counted(one.deadline))
    )


def _why(one: Due) -> str:
    """Return how the time is counted, when the paper is due at all, and what the text says."""
    deadline = one.deadline
    told = f", {words.printed(phrases.counted(deadline))}" if one.due else ""
    if deadline.only_if:
        told += f", if {deadline.only_if}"
    if deadline.on_request:
        told += ", to who asks"
    detail = f"; {deadline.detail}" if deadline.detail else ""
    confirm = doubt_words(deadline.how_read, deadline.obligation)
    return f"{told}{detail}{f'; {confirm}' if confirm else ''}"
