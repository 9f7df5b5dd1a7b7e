"""The field map: outline, sensitive places, the ground to keep off, wind, north and scale."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from calc.geometry import local_outline, local_place
from logbook.documents import sketch
from logbook.documents.drawing import (
    Box,
    Circle,
    Curve,
    Drawing,
    Labels,
    Point,
    Polygon,
    Shape,
    Text,
    hatch,
)
from logbook.facts.quantity import Quantity
from logbook.localization.compass import point_of
from logbook.localization.locale import count

DRAWN_M = 1_000.0
"""Places farther than this are listed, not drawn: the field would be a dot."""

DOWNWIND_DEG, UPWIND_DEG = 60.0, 120.0
"""Up to the first from where the wind goes is downwind, from the second on upwind; between them
the wind goes across. Common practice, no source; wider than a plume, because wind turns."""


class Place(Protocol):
    """What is drawn of a place; `catalog.nearby.NearPlace` is one."""

    @property
    def name(self) -> str: ...
    @property
    def kind(self) -> str: ...
    @property
    def shape(self) -> Mapping[str, Any]: ...
    @property
    def keep_off(self) -> Quantity | None: ...
    @property
    def distance_m(self) -> float: ...
    @property
    def bearing_deg(self) -> float | None: ...


def side(*, bearing_deg: float | None, wind_from_deg: float | None) -> str:
    """Return on which side of the field a place lies: "downwind", "upwind", "across"; "" unknown.

    Args: bearing_deg from the field to the place, None where they touch; wind_from_deg, from which
        the wind comes.
    """
    if wind_from_deg is None:
        return ""
    if bearing_deg is None:
        return "downwind"
    # The angle between the bearing and where the wind goes, which is opposite to where it is from.
    off = abs((bearing_deg - wind_from_deg) % 360.0 - 180.0)
    return "downwind" if off <= DOWNWIND_DEG else "upwind" if off >= UPWIND_DEG else "across"


def field_map(
    boundary: Mapping[str, Any],
    places: Sequence[Place],
    *,
    name: str,
    wind_from_deg: float | None,
    system: str,
    width: float = 340.0,
    height: float = 260.0,
    size: float = 11.0,
) -> Drawing:
    """Return the map of a field and the places near it within a box of `width` by `height`.

    Places carry their number in the order given, counted from 1; those beyond `DRAWN_M` are left to
    the list beside the map. Args otherwise as `sketch.field_sketch`.

    Raises: OutOfRange as for `calc.geometry.local_outline`.
    """
    rings = local_outline(shape=boundary)
    drawn = [(n, one) for n, one in enumerate(places, 1) if one.distance_m <= DRAWN_M]
    view = _view(rings, [one for _number, one in drawn])
    legend = 3.2 * size
    per_m = min(
        (width - size) / (view[2] - view[0]), (height - legend - size) / (view[3] - view[1])
    )
    middle = (view[0] + view[2]) / 2.0, (view[1] + view[3]) / 2.0
    x0, y0 = width / 2.0, (height - legend) / 2.0

    def at(position: Point) -> Point:
        return x0 + (position[0] - middle[0]) * per_m, y0 - (position[1] - middle[1]) * per_m

    def ring(positions: Sequence[Point]) -> tuple[Point, ...]:
        return tuple(sketch._thinned(at(position) for position in positions))

    shapes: list[Shape] = [Polygon(tuple(map(ring, rings)), "shade", "ink", 0.09 * size)]
    labels = Labels(within=Box(0.0, 0.0, width, height - legend))
    texts: list[tuple[Text, ...]] = []
    for number, place in drawn:
        keep_off = place.keep_off.si if place.keep_off else 0.0
        flat = local_place(field=boundary, place=place.shape, buffer_m=keep_off, window=view)
        around = [ring(positions) for positions in flat.buffer]
        around = [positions for positions in around if len(positions) > 2]
        if around:
            shapes += hatch(around, gap=0.55 * size, role="caution", width=0.05 * size)
            shapes.append(Polygon(tuple(around), "", "caution", 0.06 * size))
        outlines = [ring(positions) for positions in flat.rings]
        outlines = [positions for positions in outlines if len(positions) > 2]
        if outlines:
            shapes.append(Polygon(tuple(outlines), "ground", "caution", 0.14 * size))
        shapes += [Curve(tuple(map(at, line)), "caution", 0.2 * size) for line in flat.lines]
        shapes += [Circle(*at(point), 0.28 * size, "caution") for point in flat.points]
        anchor = _anchor([*flat.points, *(p for line in [*flat.lines, *flat.rings] for p in line)])
        if anchor:
            x, y = at(anchor)
            texts.append(
                tuple(
                    Text(x + dx * size, y + dy * size, str(number), size, bold=True)
                    for dx, dy in ((0.5, -0.4), (0.5, 1.1), (-1.1, -0.4), (-1.1, 1.1), (0.0, -1.0))
                )
            )
    for options in texts:
        labels.put(*options)
    bar, length = sketch._scale_bar(system, width, per_m)
    wind = sketch.wind_words(wind_from_deg)
    base = height - 0.6 * size
    shapes += [
        *labels.texts,
        *sketch._north(0.7 * size, base, size),
        *sketch._bar(width, base, bar, length, size),
        *sketch._wind(2.4 * size, base, wind, wind_from_deg, size),
    ]
    return Drawing(
        width,
        height,
        _("Map of %(name)s") % {"name": name},
        _described(places, wind, wind_from_deg, length, system),
        tuple(shapes),
    )


def _view(
    rings: Sequence[Sequence[Point]], places: Sequence[Place]
) -> tuple[float, float, float, float]:
    """Return the window of the map: the field, and the near side of every place drawn. [m]"""
    easts = [east for one in rings for east, _north in one]
    norths = [north for one in rings for _east, north in one]
    west, south, east, north = min(easts), min(norths), max(easts), max(norths)
    # Each place is somewhere within its distance of the field's edge, towards its bearing.
    wide = max(east - west, north - south)
    for place in places:
        reach = place.distance_m + 0.15 * wide
        bearing = math.radians(place.bearing_deg or 0.0)
        toward_east, toward_north = math.sin(bearing) * reach, math.cos(bearing) * reach
        west, east = min(west, min(easts) + toward_east), max(east, max(easts) + toward_east)
        south, north = (
            min(south, min(norths) + toward_north),
            max(north, max(norths) + toward_north),
        )
    room = 0.06 * max(east - west, north - south)
    return west - room, south - room, east + room, north + room


def _anchor(positions: Sequence[Point]) -> Point | None:
    """Return where the number of a place goes: at its point nearest to the field's middle."""
    return min(positions, key=lambda one: math.hypot(*one)) if positions else None


def _described(
    places: Sequence[Place], wind: str, wind_from_deg: float | None, length: str, system: str
) -> str:
    """Return the map in words, for a reader who cannot see it."""
    parts = [
        _("Outline of the field, north up; %(wind)s; the scale bar is %(length)s long.")
        % {"wind": wind, "length": length}
    ]
    if not places:
        parts.append(_("No sensitive place is written down near it."))
        return " ".join(parts)
    near = len(places)
    parts.append(
        ngettext("%(count)s sensitive place near it.", "%(count)s sensitive places near it.", near)
        % {"count": near}
    )
    for number, place in enumerate(places[:5], 1):
        parts.append(
            _("%(number)s: %(name)s (%(kind)s), %(where)s.")
            % {
                "number": number,
                "name": place.name,
                "kind": place.kind,
                "where": where(place, wind_from_deg=wind_from_deg, system=system),
            }
        )
    return " ".join(parts)


def where(place: Place, *, wind_from_deg: float | None, system: str) -> str:
    """Return where a place lies as seen from the field, in words: "410 ft NNE, downwind"."""
    if place.bearing_deg is None:
        return _("touches the field")
    unit, per_m = ("ft", 1.0 / 0.3048) if system == "us" else ("m", 1.0)
    # Down to what the map is good for; a distance to keep is not met by rounding up.
    distance = math.floor(place.distance_m * per_m)
    words = f"{count(distance)} {unit} {point_of(place.bearing_deg)}"
    told = side(bearing_deg=place.bearing_deg, wind_from_deg=wind_from_deg)
    named = {
        "downwind": _("downwind"),
        "upwind": _("upwind"),
        "across": _("across the wind"),
    }.get(told)
    return f"{words}, {named}" if named else words
