"""Ledgers on a sheet: names left of values, and in the margin the checker's marks beside them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from logbook.documents.drawing import Drawing, Line, Text
from logbook.documents.page import (
    BODY,
    LEFT,
    Beside,
    Bitmap,
    Column,
    Photo,
    Placed,
    Row,
    Run,
    Runs,
    Sheet,
    wrap,
)
from logbook.documents.typeface import width
from logbook.sections.document import Mark

NAME_ROOM = 57.0
BETWEEN = 4.0
"""Between a name and its value, and between two columns of a table."""

GUTTER = 16.0
"""Between two ledgers side by side; the marks of the right one stand in it."""

BESIDE = 12.0
"""Between a ledger and the drawing to the right of it."""

BETWEEN_FACTS = 0.5
"""Between two lines of a ledger, besides the leading."""

MAX_OF_NAMES = 0.4
"""The share of the room that a column of long names may take."""

ABREAST = ((1 / 3, 1 / 3, 1 / 3), (0.5, 0.5), (0.36, 0.64), (1.0,))
"""The shares of the room that lines abreast can take: the first into which they fit."""

MAX_MARKS = 3
"""Beside one line, the heaviest first; further findings are counted."""


@dataclass(frozen=True, slots=True)
class Fact:
    """A line of a ledger: what it is called, what was said, and the marks beside it."""

    name: str
    value: Runs
    marks: tuple[Mark, ...] = ()


class Ledger:
    """A sheet on which facts are put with the marks beside them."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet

    @property
    def room(self) -> float:
        """The width between the margins, in points."""
        return self.sheet.right - self.sheet.left

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

    def facts(self, facts: Sequence[Fact], *, room: float | None = None) -> None:
        """Put facts under each other, as many abreast as fit on one line, read from the left.

        Args: room, in points; the whole width if not given.
        """
        room, place = room or self.room, 0
        names = self._room_of_names(facts, room)
        while place < len(facts):
            columns = self._columns(facts[place:], names, room)
            abreast = facts[place : place + len(columns) // 2]
            cells = [cell for one in abreast for cell in ((Run(one.name, "quiet"),), one.value)]
            starts = (column.x for column in columns[::2])
            marks = [
                mark
                for one, x in zip(abreast, starts, strict=True)
                for mark in beside(one.marks, x=x)
            ]
            self.sheet.table(columns, [Row(tuple(cells), tuple(marks))], gap=BETWEEN_FACTS)
            place += len(abreast)

    def _room_of_names(self, facts: Sequence[Fact], room: float) -> float:
        """Return the width of the column of names: the usual one, or more for longer names."""
        body = self.sheet.body
        widest = max((width(one.name, body) for one in facts), default=0.0)
        return max(NAME_ROOM * body / BODY, min(widest + 1.0, MAX_OF_NAMES * room))

    def _columns(self, facts: Sequence[Fact], names: float, room: float) -> list[Column]:
        """Return the columns of as many of the next facts as stand abreast, each on one line."""
        for shares in ABREAST:
            free, x = room - GUTTER * (len(shares) - 1), self.sheet.left
            columns = []
            for share in shares:
                start = names + BETWEEN
                columns += [Column(x, names), Column(x + start, share * free - start)]
                x += share * free + GUTTER
            values = columns[1::2]
            if len(facts) >= len(shares) > 1 and all(
                len(wrap(one.value, column.width, self.sheet.body)) == 1
                for one, column in zip(facts, values, strict=False)
            ):
                break
        return columns

    def facts_beside(
        self, facts: Sequence[Fact], aside: Drawing | Bitmap | Photo | None, *, text: Runs = ()
    ) -> None:
        """Put facts, and small text below, beside a drawing if there is one."""
        sheet, room = self.sheet, self.room
        page, bottom = len(sheet.pages), sheet.y
        if aside is not None:
            sheet.put(Placed(sheet.right - aside.width, sheet.y, aside))
            room -= aside.width + BESIDE
            bottom += aside.height
        self.facts(facts, room=room)
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


def beside(marks: Iterable[Mark], *, x: float = LEFT) -> tuple[Beside, ...]:
    """Return the marks of findings as they stand left of `x`; the rest of many are counted."""
    found = [Beside(mark.kind, mark.number, x - 3.0) for mark in marks if mark.number]
    if len(found) > MAX_MARKS:
        found[MAX_MARKS:] = [Beside("", len(found) - MAX_MARKS, x - 3.0)]
    return tuple(found)
