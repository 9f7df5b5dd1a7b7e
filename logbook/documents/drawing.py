"""The primitives of every drawing: shapes with a role, in a box whose y runs down.

A role says what a shape means; which ink that is, the page's style sheet and `paint` decide. A
layout is pure, so the web page and the paper show the same drawing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal, NamedTuple

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True)
class Line:
    """A straight stroke."""

    x1: float
    y1: float
    x2: float
    y2: float
    role: str
    width: float = 1.0


@dataclass(frozen=True, slots=True)
class Curve:
    """A stroke through several points."""

    points: tuple[Point, ...]
    role: str
    width: float = 1.0


@dataclass(frozen=True, slots=True)
class Rect:
    """An upright rectangle; an empty role means no fill, an empty outline no stroke."""

    x: float
    y: float
    width: float
    height: float
    role: str = ""
    outline: str = ""
    stroke: float = 0.6


@dataclass(frozen=True, slots=True)
class Polygon:
    """One or more closed rings, filled by the even-odd rule."""

    rings: tuple[tuple[Point, ...], ...]
    role: str = ""
    outline: str = ""
    stroke: float = 0.6


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle; an empty role means no fill, an empty outline no stroke."""

    x: float
    y: float
    radius: float
    role: str = ""
    outline: str = ""
    stroke: float = 0.6


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; `y` is its baseline."""

    x: float
    y: float
    text: str
    size: float
    role: str = "ink"
    anchor: Anchor = "start"
    bold: bool = False


Shape = Line | Curve | Rect | Polygon | Circle | Text


@dataclass(frozen=True, slots=True)
class Drawing:
    """Shapes in a box of `width` by `height`, and what a reader who cannot see them is told."""

    width: float
    height: float
    title: str
    description: str
    shapes: tuple[Shape, ...]


class Box(NamedTuple):
    """The space that a label takes."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        """Return whether the two overlap."""
        apart = self.right <= other.left or other.right <= self.left
        return not (apart or self.bottom <= other.top or other.bottom <= self.top)


# Widths in ems that no usual screen sans exceeds by much; the paper's type is narrower.
_NARROW, _USUAL, _WIDE = 0.33, 0.58, 0.72
_NARROW_LETTERS = frozenset(" ,.;:'|!()[]ijlrtfI-/·")


def text_width(text: str, size: float) -> float:
    """Return the space to keep for a text in whatever sans the reader has, in units of `size`."""
    ems = sum(
        _NARROW if letter in _NARROW_LETTERS else _WIDE if letter.isupper() else _USUAL
        for letter in text
    )
    return ems * size


def box_of(text: Text) -> Box:
    """Return the space that a text takes, with the room that keeps neighbours apart."""
    width = text_width(text.text, text.size)
    left = text.x - {"start": 0.0, "middle": width / 2.0, "end": width}[text.anchor]
    return Box(left, text.y - 0.82 * text.size, left + width, text.y + 0.24 * text.size)


class Labels:
    """Texts of one drawing that must not overlap: each goes where there is room, or is left out."""

    def __init__(self, *, within: Box, gap: float = 0.0) -> None:
        """Args: gap, the least space between two texts of one row."""
        self._within, self._gap = within, gap
        self._taken: list[Box] = []
        self.texts: list[Text] = []

    def keep_free(self, box: Box) -> None:
        """Let no label be put over `box`."""
        self._taken.append(box)

    def put(self, *places: Text) -> bool:
        """Put the text at the first place that is free and inside; return whether there was one."""
        for text in places:
            box = box_of(text)
            inside = (
                box.left >= self._within.left
                and box.right <= self._within.right
                and box.top >= self._within.top
                and box.bottom <= self._within.bottom
            )
            wide = box._replace(left=box.left - self._gap, right=box.right + self._gap)
            if inside and not any(wide.meets(other) for other in self._taken):
                self._taken.append(box)
                self.texts.append(text)
                return True
        return False


def inside(text: Text, *, left: float, right: float) -> Text:
    """Return the text moved sideways, no farther than needed, to lie between two edges."""
    box = box_of(text)
    shift = max(left - box.left, 0.0) or min(right - box.right, 0.0)
    return replace(text, x=text.x + shift)


def hatch(
    rings: Iterable[Sequence[Point]], *, gap: float, role: str = "hatch", width: float = 0.6
) -> Iterator[Line]:
    """Yield slanted strokes that fill the rings by the even-odd rule, `gap` apart."""
    edges = [edge for ring in rings for edge in pairwise((*ring, ring[0]))]
    # A stroke is all points with the same x + y; along it, x alone tells the place.
    sums = [x + y for (x, y), _ in edges]
    step = gap * math.sqrt(2.0)
    for number in range(math.floor(min(sums) / step) + 1, math.ceil(max(sums) / step)):
        level = number * step
        crossings = []
        for (x1, y1), (x2, y2) in edges:
            here, there = x1 + y1 - level, x2 + y2 - level
            if (here < 0.0) != (there < 0.0):
                crossings.append(x1 + (x2 - x1) * here / (here - there))
        crossings.sort()
        for start, end in zip(crossings[::2], crossings[1::2], strict=True):
            yield Line(start, level - start, end, level - end, role, width)


def ticks(low: float, high: float, *, most: int) -> list[float]:
    """Return the round numbers between two values, with at most `most` steps between them."""
    rough = (high - low) / most
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * factor for factor in (1.0, 2.0, 2.5, 5.0, 10.0) if power * factor >= rough)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [number * step for number in range(first, last + 1)]
