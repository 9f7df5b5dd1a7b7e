"""Drawings for the cab: a field as small as a thumb, the ring of the wind, its slide, the boom."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Literal

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from calc.geometry import local_outline
from calc.nozzle import SIZES
from logbook.documents import sketch
from logbook.documents.drawing import (
    Circle,
    Curve,
    Drawing,
    Line,
    Point,
    Polygon,
    Rect,
    Shape,
    Text,
    hatch,
)
from logbook.localization.compass import NAMES
from logbook.localization.locale import translate_word

Fill = Literal["", "hatched", "shaded", "crossed"]
"""How a small field is filled: blank, being sprayed or sprayed, ready to sign, closed."""


def small_field(boundary: Mapping[str, Any] | None, *, fill: Fill = "") -> Drawing:
    """Return a field's outline, north up, in a box of 44 by 44; a plain box where it has none.

    It says nothing that does not stand in words beside it.
    """
    rings = _outline(boundary, middle=(22.0, 22.0), reach=20.0)
    shapes: list[Shape] = [Polygon(rings, "shade" if fill == "shaded" else "", "ink", 1.6)]
    if not boundary:
        shapes.append(Line(16, 22, 28, 22, "rule", 1.6))
    if fill == "hatched":
        shapes += hatch(rings, gap=4.5, role="ink", width=0.9)
    if fill == "crossed":
        shapes += [
            Line(12, 12, 32, 32, "breach", 2.2),
            Line(32, 12, 12, 32, "breach", 2.2),
        ]
    return Drawing(44, 44, "", "", tuple(shapes))


RING = 104.0
"""Middle of the ring's band; its inner and outer edge are 15 to either side."""


def wind_ring(
    boundary: Mapping[str, Any] | None,
    *,
    name: str,
    wind_from_deg: float | None,
    earlier: bool = False,
) -> Drawing:
    """Return the ring of the compass, north up, with the field in it and the wind over it.

    Args: wind_from_deg, the direction that the wind comes from, clockwise from true north, None if
        unknown or calm; earlier, whether that is the last reading beside one still to be taken.
    """
    middle = (126.0, 126.0)
    shapes: list[Shape] = [
        Circle(*middle, RING, "", "shade", 30.0),
        Circle(*middle, RING + 15.0, "", "ink", 1.5),
        Circle(*middle, RING - 15.0, "", "ink", 1.0),
    ]
    for place in range(36):
        # Every tenth degree, longer at the thirds of a right angle.
        inner = RING + (2.0 if place % 3 == 0 else 8.0)
        ends = (_toward(10.0 * place, far, middle) for far in (inner, RING + 15.0))
        (x1, y1), (x2, y2) = ends
        shapes.append(Line(x1, y1, x2, y2, "ink", 1.0))
    for degrees, point in ((0, "N"), (90, "E"), (180, "S"), (270, "W")):
        x, y = _toward(degrees, RING, middle)
        shapes.append(Circle(x, y, 13.5, "ground"))
        shapes.append(Text(x, y + 6.0, str(NAMES[point]), 18.0, anchor="middle", bold=True))
    if boundary:
        rings = _outline(boundary, middle=middle, reach=56.0)
        shapes.append(Polygon(rings, "", "ink", 1.8))
    if wind_from_deg is not None:
        role, width = ("rule", 2.0) if earlier else ("caution", 4.0)
        shapes += _arrow(wind_from_deg, middle, role, width)
    wind = sketch.wind_words(wind_from_deg)
    said = _("North is up; %(wind)s.") if boundary else _("North is up; %(wind)s; no outline.")
    return Drawing(
        2 * middle[0],
        2 * middle[1],
        _("The wind over %(name)s") % {"name": name} if name else _("The wind"),
        said % {"wind": wind},
        tuple(shapes),
    )


def _toward(degrees: float, far: float, middle: Point) -> Point:
    turned = math.radians(degrees)
    return middle[0] + far * math.sin(turned), middle[1] - far * math.cos(turned)


def _arrow(from_deg: float, middle: Point, role: str, width: float) -> Iterator[Shape]:
    """Yield the arrow that flies with the wind: from the ring to the middle of the field."""
    tail, neck, head = (_toward(from_deg, far, middle) for far in (88.0, 20.0, 4.0))
    across = math.radians(from_deg + 90.0)
    barb = 2.0 + 1.8 * width
    dx, dy = barb * math.sin(across), -barb * math.cos(across)
    back = _toward(from_deg, 12.0 + 2.6 * width, middle)
    yield Curve((tail, neck), role, width)
    yield Polygon(((head, (back[0] + dx, back[1] + dy), (back[0] - dx, back[1] - dy)),), role)


def _outline(
    boundary: Mapping[str, Any] | None, *, middle: Point, reach: float
) -> tuple[tuple[Point, ...], ...]:
    """Return a field's rings within `reach` of the middle; a box where there is no outline."""
    if not boundary:
        (x, y), far = middle, 0.7 * reach
        return (((x - far, y - far), (x + far, y - far), (x + far, y + far), (x - far, y + far)),)
    rings = local_outline(shape=boundary)
    easts = [east for ring in rings for east, _north in ring]
    norths = [north for ring in rings for _east, north in ring]
    east0, north0 = (max(easts) + min(easts)) / 2.0, (max(norths) + min(norths)) / 2.0
    # By the diagonal, so that no corner leaves the round room that the ring has for it.
    far = max(math.hypot(e - east0, n - north0) for ring in rings for e, n in ring)
    return tuple(
        tuple(
            sketch._thinned(
                (middle[0] + (e - east0) / far * reach, middle[1] - (n - north0) / far * reach)
                for e, n in ring
            )
        )
        for ring in rings
    )


SLIDE = (14.0, 316.0)
"""Where the slide begins and ends, in a drawing 330 wide."""


def speed_slide(
    *, most: float, unit: str, low: float | None, high: float | None, words: str
) -> Drawing:
    """Return the scale of wind speeds from 0 to `most`, the labels' band hatched on it.

    Args: low and high, the labels' limits in `unit`, None where they set none; words, the limits
        as the labels print them, "" for none.
    """
    left, right = SLIDE

    def x(speed: float) -> float:
        return left + min(max(speed, 0.0), most) / most * (right - left)

    shapes: list[Shape] = [Line(left, 24, right, 24, "ink", 2.0)]
    if low is not None or high is not None:
        first, last = x(low or 0.0), x(most if high is None else high)
        box = ((first, 18.0), (last, 18.0), (last, 30.0), (first, 30.0))
        shapes += hatch([box], gap=4.5, role="ink", width=0.9)
        shapes.append(Polygon((box,), "", "ink", 1.0))
    for share in range(5):
        speed = most * share / 4.0
        shapes.append(Line(x(speed), 24, x(speed), 33, "ink", 1.0))
        shapes.append(Text(x(speed), 52, f"{speed:g}", 15.0, "quiet", "middle"))
    limits = _("The label allows %(limits)s.") % {"limits": words} if words else ""
    return Drawing(
        330,
        58,
        _("Wind speed, 0 to %(most)g %(unit)s") % {"most": most, "unit": unit},
        limits,
        tuple(shapes),
    )


def boom(*, count: int, size: str, off: Sequence[int] = ()) -> Drawing:
    """Return a boom with its tips in the colour that ISO 10625 gives their size.

    Args: count of the tips; size, "" for one that has no ISO colour; off, the numbers of the tips,
        from 1 on the left, whose flow is off by the last catch test.
    """
    role = f"swatch-size-{size}" if size in SIZES else "ground"
    pitch = 326.0 / count
    wide = min(0.6 * pitch, 6.0)
    shapes: list[Shape] = [Line(2, 5, 328, 5, "ink", 2.5), Rect(156, 1, 18, 8, "ink")]
    for number in range(1, count + 1):
        x = 2.0 + (number - 0.5) * pitch
        shapes.append(Rect(x - wide / 2.0, 6, wide, 8, role, "ink", 0.5))
        if number in off:
            below = ((x, 15.5), (x + 4.5, 23.5), (x - 4.5, 23.5))
            shapes.append(Polygon((below,), "ground", "caution", 1.6))
    colour = translate_word(SIZES[size].colour) if size in SIZES else ""
    tips = ngettext("%(count)d tip", "%(count)d tips", count) % {"count": count}
    said = f"{tips}, {size} {colour}" if colour else tips
    return Drawing(330, 25, _("The boom"), said, tuple(shapes))
