"""Ledgers on a sheet: names left of values, and in the margin the checker's marks beside them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from logbook.documents import marks
from logbook.documents.drawing import Drawing, Line, Text
from logbook.documents.page import (
    BODY,
    LEFT,
    Beside,
    Bitmap,
    Column,
    Placed,
    Row,
    Run,
    Runs,
    Sheet,
)
from logbook.rules.core import Finding

NAME_ROOM = 57.0
BETWEEN = 4.0
"""Between a name and its value, and between two columns of a table."""

GUTTER = 16.0
"""Between two ledgers side by side; the marks of the right one stand in it."""

BESIDE = 12.0
"""Between a ledger and the drawing to the right of it."""

BETWEEN_FACTS = 0.6
"""Between two lines of a ledger, besides the leading."""

ONE, TWO = (1.0,), (0.5, 0.5)
"""The shares of one column, and of two."""

MOST_MARKS = 3
"""Beside one line, the heaviest first; further findings are counted."""


@dataclass(frozen=True, slots=True)
class Fact:
    """A line of a ledger: what it is, what was said, and the inputs whose marks stand beside it."""

    name: str
    value: Runs
    about: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Group:
    """Facts that are put together, and the shares of the room that their columns take."""

    facts: Sequence[Fact]
    shares: Sequence[float] = ONE


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

    def text(
        self,
        *runs: Run,
        size: float | None = None,
        marks: tuple[Beside, ...] = (),
        room: float | None = None,
    ) -> None:
        """Let text flow across the whole width, or as much of it as `room`."""
        column = Column(self.sheet.left, room or self.room)
        self.sheet.table([column], [Row((runs,), marks)], size=size, gap=0.0)

    def facts(self, facts: Sequence[Fact], *, room: float, shares: Sequence[float] = ONE) -> None:
        """Put facts under each other; in several columns read down the left one first.

        Args: room, in points; shares of it that the columns take, 1 together.
        """
        free = room - GUTTER * (len(shares) - 1)
        starts, x = [], self.sheet.left
        columns: list[Column] = []
        for share in shares:
            starts.append(x)
            columns += self._pair(x, share * free)
            x += share * free + GUTTER
        depth = math.ceil(len(facts) / len(shares))
        rows = []
        for place in range(depth):
            abreast = facts[place::depth]
            cells = [cell for fact in abreast for cell in (_name(fact), fact.value)]
            beside = [
                one
                for start, fact in zip(starts, abreast, strict=False)
                for one in self.beside(*fact.about, x=start)
            ]
            rows.append(Row((*cells, *((),) * (len(columns) - len(cells))), tuple(beside)))
        self.sheet.table(columns, rows, gap=BETWEEN_FACTS)

    def facts_beside(
        self, groups: Sequence[Group], aside: Drawing | Bitmap | None, *, text: Runs = ()
    ) -> None:
        """Put groups of facts, and small text below, beside a drawing if there is one."""
        sheet, room = self.sheet, self.room
        page, bottom = len(sheet.pages), sheet.y
        if aside is not None:
            sheet.put(Placed(sheet.right - aside.width, sheet.y, aside))
            room -= aside.width + BESIDE
            bottom += aside.height
        for group in groups:
            self.facts(group.facts, room=room, shares=group.shares)
        if text:
            sheet.y += 2.0
            self.text(*text, size=sheet.small, room=room)
        if len(sheet.pages) == page:
            sheet.y = max(sheet.y, bottom)

    def blanks(self, names: Sequence[str]) -> None:
        """Put lines to be filled in by hand, two abreast."""
        sheet = self.sheet
        half = (self.room - GUTTER) / 2.0
        for place in range(0, len(names), 2):
            sheet.need(20.0)
            sheet.y += 18.0
            for number, name in enumerate(names[place : place + 2]):
                x = sheet.left + number * (half + GUTTER)
                sheet.put(Text(x, sheet.y, name, sheet.body, "quiet"))
                sheet.put(Line(x + 62.0, sheet.y + 1.0, x + half, sheet.y + 1.0, "rule", 0.5))
        sheet.y += 6.0

    def _pair(self, x: float, room: float) -> tuple[Column, Column]:
        """Return the column of names and that of values."""
        name = NAME_ROOM * self.sheet.body / BODY
        start = name + BETWEEN
        return Column(x, name), Column(x + start, room - start)

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


def _name(fact: Fact) -> Runs:
    return (Run(fact.name, "quiet"),)
