"""The field sketch: the outline north up, with its scale and the wind."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from django.utils.translation import gettext as _

from calc.geometry import local_outline
from calc.units import convert
from calc.wind import vector_mean
from logbook.documents.drawing import Curve, Drawing, Line, Point, Polygon, Shape, Text
from logbook.documents.window import SYSTEMS
from logbook.facts.quantity import Quantity
from logbook.facts.record import WeatherFacts
from logbook.facts.wording import short_number
from logbook.localization.compass import point_of
from logbook.localization.locale import format_number

LEAST_STEP = 0.3
"""Corners of an outline closer than this on the drawing are one."""

SCALE_SHARE = 0.3
"""The longest scale bar, as a share of the drawing's width."""


def mean_wind_from(readings: Sequence[WeatherFacts]) -> float | None:
    """Return the direction the wind came from, the vector mean of the readings. [°]

    None where no reading gives direction and speed, or where they cancel.
    """
    read = [
        (reading.wind_speed.si, reading.wind_from.si)
        for reading in readings
        if isinstance(reading.wind_speed, Quantity) and isinstance(reading.wind_from, Quantity)
    ]
    if not read:
        return None
    speeds, directions = zip(*read, strict=True)
    return vector_mean(speeds_km_h=speeds, from_deg=directions).from_deg


def field_sketch(
    boundary: Mapping[str, Any],
    *,
    name: str,
    wind_from_deg: float | None,
    system: str,
    width: float = 340.0,
    height: float = 240.0,
    size: float = 11.0,
) -> Drawing:
    """Return the sketch of a field within a box of `width` by `height`.

    Args: boundary, a GeoJSON polygon as `calc.geometry.check_shape` allows; wind_from_deg, the
        direction the wind comes from, clockwise from true north, None if unknown; system, "us" or
        "metric", for the scale bar.
    Raises: OutOfRange as for `calc.geometry.local_outline`.
    """
    rings = local_outline(shape=boundary)
    easts = [east for ring in rings for east, _ in ring]
    norths = [north for ring in rings for _, north in ring]
    legend = 3.2 * size
    per_m = min(
        (width - size) / (max(easts) - min(easts)),
        (height - legend - size) / (max(norths) - min(norths)),
    )
    middle_east, middle_north = (max(easts) + min(easts)) / 2, (max(norths) + min(norths)) / 2
    x0, y0 = width / 2, (height - legend) / 2
    outline = tuple(
        tuple(
            _thinned(
                (x0 + (east - middle_east) * per_m, y0 - (north - middle_north) * per_m)
                for east, north in ring
            )
        )
        for ring in rings
    )
    bar, length = _scale_bar(system, width, per_m)
    wind = wind_words(wind_from_deg)
    base = height - 0.6 * size
    shapes: list[Shape] = [
        Polygon(outline, "shade", "ink", 0.09 * size),
        *_north(0.7 * size, base, size),
        *_bar(width, base, bar, length, size),
        *_wind(2.4 * size, base, wind, wind_from_deg, size),
    ]
    return Drawing(
        width,
        height,
        _("Sketch of %(name)s") % {"name": name},
        _("Outline of the field, north up; %(wind)s; the scale bar is %(length)s long.")
        % {"wind": wind, "length": length},
        tuple(shapes),
    )


def wind_words(from_deg: float | None) -> str:
    """Return the wind by where it comes from, in words."""
    if from_deg is None:
        return _("wind not known")
    return _("wind from %(point)s") % {"point": _point(from_deg)}


def _point(from_deg: float) -> str:
    return f"{point_of(from_deg)} ({from_deg:.0f}°)"


def _thinned(points: Iterator[Point]) -> Iterator[Point]:
    """Yield the corners without those that would fall on the one before."""
    last: Point | None = None
    for point in points:
        if last is None or math.dist(last, point) >= LEAST_STEP:
            last = point
            yield point


def _scale_bar(system: str, width: float, per_m: float) -> tuple[float, str]:
    """Return the length of the bar on the drawing, and what it says."""
    unit = SYSTEMS[system].length
    longest = float(convert(SCALE_SHARE * width / per_m, from_unit="m", to_unit=unit))
    power = 10.0 ** math.floor(math.log10(longest))
    length = max(power * factor for factor in (1.0, 2.0, 5.0) if power * factor <= longest)
    return float(
        convert(length, from_unit=unit, to_unit="m")
    ) * per_m, f"{format_number(short_number(length))} {unit}"


def _north(x: float, base: float, size: float) -> Iterator[Shape]:
    top = base - 2.1 * size
    yield Line(x, base, x, top + 0.3 * size, "ink", 0.1 * size)
    head = ((x, top - 0.3 * size), (x - 0.35 * size, top + 0.7 * size), (x, top + 0.45 * size))
    yield Polygon(((*head, (x + 0.35 * size, top + 0.7 * size)),), "ink")
    yield Text(x + 0.45 * size, base, "N", size, bold=True)


def _bar(width: float, base: float, bar: float, length: str, size: float) -> Iterator[Shape]:
    left, right, y = width - 0.3 * size - bar, width - 0.3 * size, base
    up = y - 0.4 * size
    yield Curve(((left, up), (left, y), (right, y), (right, up)), "ink", 0.1 * size)
    yield Text(right, y - 0.8 * size, length, size, anchor="end")


def _wind(x: float, base: float, wind: str, from_deg: float | None, size: float) -> Iterator[Shape]:
    if from_deg is None:
        yield Text(x, base, wind, size, "quiet")
        return
    # The arrow flies with the wind: from where it comes to where it goes.
    toward = math.radians(from_deg + 180.0)
    along, across = (math.sin(toward), -math.cos(toward)), (math.cos(toward), math.sin(toward))
    middle, reach = (x + 0.9 * size, base - 1.55 * size), 0.85 * size

    def at(forward: float, aside: float) -> Point:
        return (
            middle[0] + reach * (forward * along[0] + aside * across[0]),
            middle[1] + reach * (forward * along[1] + aside * across[1]),
        )

    yield Curve((at(-1.0, 0.0), at(0.6, 0.0)), "caution", 0.14 * size)
    yield Polygon(((at(1.0, 0.0), at(0.2, 0.42), at(0.2, -0.42)),), "caution")
    # On two lines, for the scale bar needs the rest of the width.
    yield Text(x + 2.1 * size, base - 1.1 * size, _("wind from"), size)
    yield Text(x + 2.1 * size, base, _point(from_deg), size)
