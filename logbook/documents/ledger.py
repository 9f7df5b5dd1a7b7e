"""Ledgers on a sheet: names left of values, and in the margin the checker's marks beside them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from logbook.documents import marks
from logbook.documents.drawing import Drawing
from logbook.documents.page import LEFT, Beside, Bitmap, Column, Placed, Row, Run, Runs, Sheet
from logbook.rules.core import Finding

NAME_ROOM = 62.0
BETWEEN = 5.0
"""Between a name and its value, and between two columns of a table."""

GUTTER = 16.0
"""Between two ledgers side by side; the marks of the right one stand in it."""

MOST_MARKS = 3
"""Beside one line, the heaviest first; further findings are counted."""


@dataclass(frozen=True, slots=True)
class Fact:
    """A line of a ledger: what it is, what was said, and the inputs whose marks stand beside it."""

    name: str
    value: Runs
    about: tuple[str, ...] = ()


class Ledger:
    """A sheet on which facts are put with the marks of the findings about them."""

    def __init__(self, sheet: Sheet, findings: Sequence[Finding]) -> None:
        self.sheet = sheet
        self._findings = tuple(enumerate(findings, start=1))

    @property
    def room(self) -> float:
        """The width between the margins, in points."""
        return self.sheet.right - self.sheet.left

    def beside(self, *about: str, x: float = LEFT) -> tuple[Beside, ...]:
        """Return the marks of the findings about some inputs or parts of them."""
        return self._marks(
            (
                (number, finding)
                for number, finding in self._findings
                if any(f"{finding.about}.".startswith(f"{path}.") for path in about)
            ),
            x,
        )

    def beside_whole(self, about: str) -> tuple[Beside, ...]:
        """Return the marks of the findings about a list of inputs as a whole."""
        return self._marks(
            ((n, finding) for n, finding in self._findings if finding.about == about)
        )

    def all_beside(self) -> list[tuple[Finding, Beside]]:
        """Return every finding with its mark in the left margin."""
        return [(finding, self._marks([(n, finding)])[0]) for n, finding in self._findings]

    def _marks(
        self, numbered: Iterable[tuple[int, Finding]], x: float = LEFT
    ) -> tuple[Beside, ...]:
        found = [Beside(marks.kind_of(finding), n, x - 3.0) for n, finding in numbered]
        if len(found) > MOST_MARKS:
            found[MOST_MARKS:] = [Beside("", len(found) - MOST_MARKS, x - 3.0)]
        return tuple(found)

    def text(self, *runs: Run, size: float, marks: tuple[Beside, ...] = ()) -> None:
        """Let text flow across the whole width."""
        column = Column(self.sheet.left, self.room)
        self.sheet.table([column], [Row((runs,), marks)], size=size, gap=0.0)

    def facts(self, facts: Sequence[Fact], *, room: float) -> None:
        """Put facts under each other."""
        columns = _pair(self.sheet.left, room)
        rows = [Row((_name(fact), fact.value), self.beside(*fact.about)) for fact in facts]
        self.sheet.table(columns, rows, gap=1.0)

    def facts_beside(self, facts: Sequence[Fact], aside: Drawing | Bitmap | None) -> None:
        """Put facts with a drawing to the right of them, or across where there is none."""
        sheet = self.sheet
        if aside is None:
            self.facts(facts, room=self.room)
            return
        page, bottom = len(sheet.pages), sheet.y + aside.height
        sheet.put(Placed(sheet.right - aside.width, sheet.y, aside))
        self.facts(facts, room=self.room - aside.width - 14.0)
        if len(sheet.pages) == page:
            sheet.y = max(sheet.y, bottom)

    def two_columns(self, facts: Sequence[Fact]) -> None:
        """Put facts in two columns, read down the left one first."""
        half = (self.room - GUTTER) / 2.0
        starts = (self.sheet.left, self.sheet.left + half + GUTTER)
        columns = [column for x in starts for column in _pair(x, half)]
        middle = (len(facts) + 1) // 2
        rows = []
        for place in range(middle):
            pair = facts[place::middle]
            cells = [cell for fact in pair for cell in (_name(fact), fact.value)]
            beside = [
                one
                for x, fact in zip(starts, pair, strict=False)
                for one in self.beside(*fact.about, x=x)
            ]
            rows.append(Row((*cells, *((),) * (len(columns) - len(cells))), tuple(beside)))
        self.sheet.table(columns, rows, gap=1.0)

    def columns(
        self, shares: Sequence[tuple[str, float]], *, by_point: Sequence[int] = ()
    ) -> list[Column]:
        """Return columns across the whole width, by head and share of the room."""
        columns, x = [], self.sheet.left
        total = self.room - BETWEEN * (len(shares) - 1)
        for place, (head, share) in enumerate(shares):
            columns.append(Column(x, share * total, head, place in by_point))
            x += share * total + BETWEEN
        return columns


def _pair(x: float, room: float) -> list[Column]:
    start = NAME_ROOM + BETWEEN
    return [Column(x, NAME_ROOM), Column(x + start, room - start)]


def _name(fact: Fact) -> Runs:
    return (Run(fact.name, "quiet"),)
