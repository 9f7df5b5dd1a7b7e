"""A record as a document: sections with lines and tables, and the marks beside them.

The page and the paper are both written from it, so they cannot differ in what they show, how it is
called or where it stands. Values are not yet written: each way out writes quantities, times and
messages (`logbook.facts.messages`) as its reader needs them.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Mapping, Set
from dataclasses import dataclass
from datetime import date, datetime
from operator import attrgetter
from typing import NamedTuple

from logbook.checks.assessment import RateLine
from logbook.checks.core import Finding, Run, RunState
from logbook.facts.messages import joined, term
from logbook.facts.quantity import Answer
from logbook.facts.record import Snapshot

Value = Answer | datetime | date | str

AGREES = "agrees"
"""The kind of mark where a check looked and agreed; the others are those of findings."""


class Piece(NamedTuple):
    """A piece of a value: what is said, and how it looks.

    Attributes: value, an answer, a time, a day, a message, or a text as entered; None is blank.
    look: "strong" or "quiet"; a "size-03" or "class-C" whose swatch, or a kind of mark that stands
    before the words.
    """

    value: Value
    look: str = ""


BLANK = Piece(None)


@dataclass(frozen=True, kw_only=True)
class Line:
    """A line, or a cell of a table: what it is called, what was said, what findings call it.

    Attributes: between, what stands between its pieces.
    """

    label: str
    pieces: tuple[Piece, ...]
    about: tuple[str, ...] = ()
    between: str = ", "

    @property
    def is_blank(self) -> bool:
        """Whether nothing was said."""
        return all(piece.value in (None, "") for piece in self.pieces)


@dataclass(frozen=True)
class Row:
    """A row of a table; below it, across all columns, a line of its own if there is one.

    Attributes: about, what findings call the row as a whole; rate, what is drawn in it, where there
    is room to draw.
    """

    cells: tuple[Line, ...]
    about: tuple[str, ...] = ()
    below: Line | None = None
    rate: RateLine | None = None


@dataclass(frozen=True, kw_only=True)
class DocumentSection:
    """A section of the document: its lines, and below them the rows of its table."""

    id: str
    title: str
    lines: tuple[Line, ...]
    rows: tuple[Row, ...] = ()

    @property
    def heads(self) -> tuple[str, ...]:
        """The labels of the columns, which are those of the last row."""
        return tuple(cell.label for cell in self.rows[-1].cells) if self.rows else ()

    def named(self) -> Iterator[tuple[str, str]]:
        """Yield every path with the words that lead a reader to where it stands."""
        for line in self.lines:
            yield from ((path, line.label) for path in line.about)
        for row in self.rows:
            yield from ((path, self.title) for path in row.about)
            below = [(row.below.label, row.below)] if row.below else []
            for head, cell in [*zip(self.heads, row.cells, strict=True), *below]:
                where = joined(", ", (term(self.title), term(head)))
                yield from ((path, where) for path in cell.about)


class Mark(NamedTuple):
    """What the checker put beside a line: its kind, and the number of the finding, 0 for none."""

    kind: str
    number: int = 0


class Margin:
    """The marks of findings and of checks that agreed, by the path of the input they are about.

    A finding stands once: at its own path, or else at the nearest of those `given` that holds it.
    No tick stands at a path that is `unsaid`: a check may agree without a value that is blank.
    """

    def __init__(
        self,
        findings: Iterable[Finding],
        runs: Iterable[Run],
        given: Container[str] = (),
        *,
        unsaid: Set[str] = frozenset(),
    ) -> None:
        self._marks: dict[str, list[Mark]] = {}
        for number, finding in enumerate(findings, start=1):
            path = nearest(finding.about, given) or finding.about
            self._marks.setdefault(path, []).append(Mark(finding.mark, number))
        agreed = (path for run in runs if run.state is RunState.AGREED for path in run.about)
        self._agreed = frozenset(agreed) - unsaid

    def beside(self, *about: str) -> tuple[Mark, ...]:
        """Return the marks at some paths, the heaviest first; a tick where a check agreed."""
        marks = (mark for path in about for mark in self._marks.get(path, ()))
        # Findings come heaviest first, so their numbers are in the order of weight.
        found = tuple(sorted(marks, key=attrgetter("number")))
        agreed = not found and not self._agreed.isdisjoint(about)
        return (Mark(AGREES),) if agreed else found


def nearest(path: str, given: Container[str]) -> str:
    """Return the longest of the paths `given` that is this path or holds it; "" for none."""
    while path and path not in given:
        path = path.rpartition(".")[0]
    return path


@dataclass(frozen=True, kw_only=True)
class Document:
    """A record in sections, and the marks beside its lines.

    Attributes: named, what each line is called by its paths.
    """

    facts: Snapshot
    sections: tuple[DocumentSection, ...]
    margin: Margin
    named: Mapping[str, str]

    def where(self, path: str) -> str:
        """Return what the line is called in which the fact at a path stands; "" where none is."""
        return self.named.get(nearest(path, self.named), "")

    def lines(self, *about: str) -> Iterator[Line]:
        """Yield the lines of the facts at these paths or below, in the order of the document."""
        for section in self.sections:
            for line in section.lines:
                if any(nearest(path, about) for path in line.about):
                    yield line
