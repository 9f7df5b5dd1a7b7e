"""What the law asks on paper: for each set, asked for by whom, and where it stands.

Nothing here is law: each set is shown with how its wording was read and when, and what was not
read in the law or at its authority is to be confirmed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from logbook.documents import words
from logbook.documents.ledger import GUTTER, Ledger
from logbook.documents.page import Column, Row, Run, Runs
from logbook.facts.duty import Kind
from logbook.facts.record import Snapshot
from logbook.law import applicability as apply
from logbook.law.applicability import Applied, Outcome, applicable, statement
from logbook.law.cautions import (
    AUTHORITY_PREVAILS,
    CONFIRM,
    NOT_LEGAL_ADVICE,
    doubt_words,
    source_words,
)
from logbook.law.clocks import Due, dues_of
from logbook.law.coverage import coverage, no_set_words
from logbook.law.elements import State
from logbook.records.sealing.law import LawOf
from logbook.sections import phrases
from logbook.sections.document import Document

CAUTIONS = f"{NOT_LEGAL_ADVICE} {AUTHORITY_PREVAILS}"


def sources(applied: Sequence[Applied]) -> str:
    """Return how each set is cited, how it was read and when, as one line."""
    return "; ".join(
        f"{one.duty_set.title}: {source_words(one.duty_set)}"
        + ("" if one.duty_set.how_read.firm else f", {CONFIRM}")
        for one in applied
    )


def put_duties(ledger: Ledger, shown: Document, law: LawOf | None = None) -> None:
    """Put one table a set: what it asks for, and in which line of the document that stands.

    Args: law, as it was sealed with the record; None: the data that are carried today.
    """
    s = shown.facts
    sets = law.sets if law else None
    lacking = words.printed(coverage(s, sets, note=False))
    applied = applicable(s, sets=sets)
    if not applied:
        told = " ".join(filter(None, (lacking, no_set_words(s, sets))))
        ledger.text(Run("Record law: "), *words.quiet(told), size=ledger.sheet.small)
        return
    ledger.sheet.section("Asked for by law and label", keep=40.0)
    if lacking:
        ledger.text(Run(lacking, bold=True), size=ledger.sheet.small)
    if law is not None:
        ledger.text(*words.quiet(law.note), size=ledger.sheet.small)
    rows = statement(s, sets=sets)
    for one in applied:
        _put_set(ledger, shown, one, [row for row in rows if row.applied == one])
    ledger.text(*words.quiet(f"{LEGEND} {CAUTIONS}"), size=ledger.sheet.small)


LEGEND = (
    "Each set: what it asks for, and the line of this paper where that stands. “Confirm”: the "
    "wording was read from memory or in a summary, or the record cannot tell whether it is asked; "
    f"{CONFIRM}."
)


def _put_set(ledger: Ledger, shown: Document, one: Applied, rows: list[apply.Row]) -> None:
    duty_set = one.duty_set
    cited = "" if duty_set.citation == duty_set.title else f" {source_words(duty_set)}."
    note = f" {duty_set.note}" if duty_set.note else ""
    ledger.sheet.need(40.0)
    ledger.text(
        Run(f"{duty_set.title}.", bold=True),
        *words.quiet(f"{cited} {one.why}{note}"),
        size=ledger.sheet.small,
    )
    asked = [row for row in rows if row.outcome is not Outcome.NOT_ASKED]
    if asked:
        depth = (len(asked) + 1) // 2
        abreast = [asked[place::depth] for place in range(depth)]
        table = [_cells(shown, pair) for pair in abreast]
        ledger.sheet.table(_columns(ledger), table, size=ledger.sheet.small, gap=0.4)
    if left_out := [row.element.title for row in rows if row.outcome is Outcome.NOT_ASKED]:
        told = f"Not asked here: {'; '.join(left_out)}."
        ledger.text(*words.quiet(told), size=ledger.sheet.small)
    ledger.sheet.y += 3.0


def _columns(ledger: Ledger) -> list[Column]:
    half = (ledger.room - GUTTER) / 2.0
    name, left = 0.45 * half, ledger.sheet.left
    starts = (left, left + half + GUTTER)
    return [
        column
        for x in starts
        for column in (Column(x, name), Column(x + name + 4.0, half - name - 4.0))
    ]


def _cells(shown: Document, pair: list[apply.Row]) -> Row:
    cells: list[Runs] = [cell for row in pair for cell in _asked(shown, row)]
    return Row((*cells, *((),) * (4 - len(cells))))


def _asked(shown: Document, row: apply.Row) -> Iterator[Runs]:
    """Yield what is asked, and how and where it stands."""
    yield words.quiet(row.element.title)
    state = row.stand.state
    told = ", ".join(dict.fromkeys(words.begun(shown.where(path)) for path in row.stand.where))
    if state is State.MISSING:
        told = "missing" if row.mark == "missing" else "blank"
    elif state is not State.GIVEN:
        told = f"{state}{f', {row.stand.value}' if row.stand.value else ''} ({told})"
    # What is only advised is neither met nor open, so it carries no mark.
    mark = (words.mark(row.mark), Run(" ")) if row.mark else ()
    yield (*mark, Run(told), *words.quiet(_doubt(row)))


def _doubt(row: apply.Row) -> str:
    """Return what keeps a row from being a duty met, as quiet words after its place."""
    if row.outcome is Outcome.CONFIRM:
        return f"; confirm, {row.how_read}" if not row.how_read.firm else "; confirm, if it applies"
    return {
        Outcome.ADVISED: "; advised",
        Outcome.UNSETTLED: "; not settled, confirm",
        Outcome.NO_STATE_RULE: "; only where the state has no rule, confirm",
    }.get(row.outcome, "")


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
