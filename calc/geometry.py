"""Fields on the ellipsoid: area, perimeter, distance and bearing to a place, and swaths covered.

Shapes are GeoJSON geometries (RFC 7946): positions are longitude, latitude on WGS 84, and further
numbers of a position are not read. A shape may lie across the antimeridian, cut there or not; one
that goes round a pole is refused. The order of a ring's positions does not matter.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import shapely
from pyproj import Geod, Proj
from shapely.geometry import LinearRing, LineString, MultiPolygon, Polygon
from shapely.geometry import shape as shapely_shape
from shapely.ops import nearest_points

from calc.errors import OutOfRange, positive

_WGS84 = Geod(ellps="WGS84")

_FARTHEST_M = 100_000.0
"""Beyond this the flat map that finds the nearest points is no longer good to a metre."""

_PLACES = (
    *("Point", "MultiPoint", "LineString", "MultiLineString"),
    *("Polygon", "MultiPolygon"),
)

GeoJson = Mapping[str, Any]
"""A GeoJSON geometry object."""

Position = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Nearest:
    """The shortest way from a field to a place.

    Attributes: distance_m, zero where they touch or overlap; bearing_deg from the field, at least 0
    and below 360 from true north, None at distance zero; field_position and place_position
    (longitude, latitude) of the two ends.
    """

    distance_m: float
    bearing_deg: float | None
    field_position: Position
    place_position: Position


@dataclass(frozen=True, slots=True)
class SwathCoverage:
    """What a set of passes applied and covered.

    Attributes: applied_ha, width times length of all passes; covered_ha, the ground under them;
    overlap, applied / covered − 1.
    """

    applied_ha: float
    covered_ha: float
    overlap: float


def check_shape(*, shape: GeoJson) -> None:
    """Return nothing, having found a field shape that encloses an area without doubt.

    Args: shape, a Polygon or MultiPolygon with or without holes.
    Raises: OutOfRange if it is of another type, a coordinate is not a number in its range, a ring
        is not closed, has fewer than 4 positions, crosses itself or goes round a pole, a hole lies
        outside or across another, or two parts overlap.
    Source: [RFC-7946] 3.1.6.
    """
    _polygons(shape)


def area_ha(*, shape: GeoJson) -> float:
    """Return the area of a field on the WGS 84 ellipsoid, holes left out. [ha]

    Args: shape, a Polygon or MultiPolygon.
    Raises: OutOfRange as for `check_shape`.
    Source: [KARNEY-2013], as implemented in pyproj.
    """
    square_metres = 0.0
    for polygon in _polygons(shape):
        square_metres += _measure(polygon.exterior)[0]
        square_metres -= sum(_measure(hole)[0] for hole in polygon.interiors)
    return square_metres / 10_000.0


def perimeter_m(*, shape: GeoJson) -> float:
    """Return the length of all rings of a field, holes included. [m]

    Args: shape, a Polygon or MultiPolygon.
    Raises: OutOfRange as for `check_shape`.
    Source: [KARNEY-2013], as implemented in pyproj.
    """
    return sum(
        _measure(ring)[1]
        for polygon in _polygons(shape)
        for ring in (polygon.exterior, *polygon.interiors)
    )


def local_outline(*, shape: GeoJson) -> list[list[Position]]:
    """Return the rings of a field, east and north of its centroid, for a drawing. [m]

    Holes follow their shell; filled by the even-odd rule the drawing is right.

    Args: shape, a Polygon or MultiPolygon.
    Raises: OutOfRange as for `check_shape`.
    Source: azimuthal equidistant map of [SNYDER-1987], as implemented in pyproj.
    """
    polygons = MultiPolygon(_polygons(shape))
    flat = shapely.transform(polygons, _map_around(polygons), interleaved=False)
    return [
        [(float(east), float(north)) for east, north in ring.coords]
        for polygon in flat.geoms
        for ring in (polygon.exterior, *polygon.interiors)
    ]


@dataclass(frozen=True, slots=True)
class LocalPlace:
    """A place on the map around a field, cut to a window. [m]

    Attributes: rings, of its outlines; lines; points; buffer, the rings of the ground closer to it
    than a distance. Each is a list of positions east and north of the field's centroid.
    """

    rings: list[list[Position]]
    lines: list[list[Position]]
    points: list[Position]
    buffer: list[list[Position]]


def local_place(
    *,
    field: GeoJson,
    place: GeoJson,
    buffer_m: float,
    window: tuple[float, float, float, float],
) -> LocalPlace:
    """Return a place on the map around a field that `local_outline` uses, for a drawing. [m]

    Args: field and place as for `nearest`; buffer_m [m], zero for none; window, west, south, east
        and north edges [m] on that map.
    Raises: OutOfRange as for `nearest`, and below zero for buffer_m.
    Source: azimuthal equidistant map of [SNYDER-1987], as implemented in pyproj.
    """
    if not 0.0 <= buffer_m <= _FARTHEST_M:
        raise OutOfRange("buffer_m", buffer_m, "0 to {most} m", most=f"{_FARTHEST_M:.0f}")
    to_map = _map_around(MultiPolygon(_polygons(field)))
    flat = shapely.transform(_place(place), to_map, interleaved=False)
    inside = shapely.box(*window)
    around = flat.buffer(buffer_m) if buffer_m else Polygon()
    seen = [part for part in shapely.get_parts(flat.intersection(inside)) if not part.is_empty]
    return LocalPlace(
        rings=_rings(seen),
        lines=[_plain(part.coords) for part in seen if part.geom_type == "LineString"],
        points=[_plain(part.coords)[0] for part in seen if part.geom_type == "Point"],
        buffer=_rings(shapely.get_parts(around.intersection(inside))),
    )


def _rings(parts: Any) -> list[list[Position]]:
    return [
        _plain(ring.coords)
        for part in parts
        if part.geom_type == "Polygon" and not part.is_empty
        for ring in (part.exterior, *part.interiors)
    ]


def _plain(coordinates: Any) -> list[Position]:
    return [(float(east), float(north)) for east, north in coordinates]


def inside_point(*, shape: GeoJson) -> Position:
    """Return a (longitude, latitude) that lies inside the shape. [°]

    For questions that need one place for a whole field, such as when the sun rises there.

    Args: shape: GeoJSON Polygon or MultiPolygon, WGS 84.
    Raises: OutOfRange as `check_shape`.
    Source: shapely's representative point, which unlike a centroid is never outside.
    """
    point = MultiPolygon(_polygons(shape)).representative_point()
    return (point.x + 180) % 360 - 180, point.y


def nearest(*, field: GeoJson, place: GeoJson) -> Nearest:
    """Return the shortest distance and the bearing from a field to a place. [m, °]

    Args: field, a Polygon or MultiPolygon; place, a GeoJSON geometry of any type but a collection,
        within 100 km.
    Raises: OutOfRange as for `check_shape`, if the place is not such a geometry, or it is farther.
    Source: nearest points on an azimuthal equidistant map, [SNYDER-1987]; length and azimuth of
        the geodesic between them, [KARNEY-2013].
    """
    polygons = MultiPolygon(_polygons(field))
    to_map = _map_around(polygons)
    flat_field = shapely.transform(polygons, to_map, interleaved=False)
    flat_place = shapely.transform(_place(place), to_map, interleaved=False)
    here, there = nearest_points(shapely.union_all(flat_field.geoms), flat_place)
    start, end = to_map(here.x, here.y, inverse=True), to_map(there.x, there.y, inverse=True)
    azimuth, _, distance = _WGS84.inv(*start, *end)
    if distance > _FARTHEST_M:
        raise OutOfRange(
            "distance to the place", distance, "at most {most} m", most=f"{_FARTHEST_M:.0f}"
        )
    apart = here.distance(there) > 0.0
    # A tiny negative azimuth rounds to exactly 360, which is north.
    bearing = 0.0 if float(azimuth) % 360.0 == 360.0 else float(azimuth) % 360.0
    return Nearest(
        distance_m=float(distance) if apart else 0.0,
        bearing_deg=bearing if apart else None,
        field_position=start,
        place_position=end,
    )


def bounds(*, place: GeoJson) -> tuple[float, float, float, float]:
    """Return the least and greatest coordinates of a place: west, south, east, north. [°]

    Args: place, a GeoJSON geometry of any type but a collection.
    Raises: OutOfRange as for `nearest`.
    """
    west, south, east, north = _place(place).bounds
    return float(west), float(south), float(east), float(north)


def swath_coverage(*, passes: Sequence[Sequence[Position]], swath_m: float) -> SwathCoverage:
    """Return what passes of one swath width applied and covered. [ha]

    Args: passes, one or more, each two or more positions (east, north) [m] on a local map that are
        not all the same; swath_m, the width of the boom [m] > 0.
    Raises: OutOfRange if there is no pass, one has no length, or a number is out of its range.
    Source: [OVERLAP].
    """
    positive("swath_m", swath_m)
    if not passes:
        raise OutOfRange("passes", passes, "one pass or more")
    lines = []
    for number, positions in enumerate(passes, start=1):
        line = LineString(positions) if len(positions) > 1 else None
        if line is None or not 0.0 < line.length < math.inf:
            raise OutOfRange(f"pass {number}", positions, "two or more positions with a length")
        lines.append(line)
    strips = [line.buffer(swath_m / 2.0, cap_style="flat") for line in lines]
    applied = swath_m * sum(line.length for line in lines)
    covered = float(shapely.union_all(strips).area)
    return SwathCoverage(
        applied_ha=applied / 10_000.0,
        covered_ha=covered / 10_000.0,
        overlap=applied / covered - 1.0,
    )


def _polygons(shape: GeoJson) -> list[Polygon]:
    """Return the checked polygons of a field, on one run of longitudes."""
    kind, coordinates = shape.get("type"), shape.get("coordinates")
    if kind not in ("Polygon", "MultiPolygon"):
        raise OutOfRange("shape.type", kind, "Polygon or MultiPolygon")
    parts = [coordinates] if kind == "Polygon" else coordinates
    if not isinstance(parts, list | tuple) or not parts:
        raise OutOfRange("shape.coordinates", coordinates, "a list with one polygon or more")
    reference: list[float] = []
    polygons = [_polygon(part, f"polygon {n}", reference) for n, part in enumerate(parts, 1)]
    for (n, one), (m, other) in combinations(enumerate(polygons, 1), 2):
        # "2" in the first place of the matrix: the two interiors share an area.
        if one.relate(other).startswith("2"):
            raise OutOfRange(f"polygon {m}", "overlapping", "clear of polygon {n}", n=n)
    return polygons


def _polygon(rings: Any, name: str, reference: list[float]) -> Polygon:
    """Return one checked polygon."""
    if not isinstance(rings, list | tuple) or not rings:
        raise OutOfRange(name, rings, "a list with one ring or more")
    shell, *holes = (
        _ring(ring, f"ring {n} of {name}", reference) for n, ring in enumerate(rings, 1)
    )
    filled = Polygon(shell)
    for n, hole in enumerate(holes, 2):
        if not filled.covers(hole):
            raise OutOfRange(f"ring {n} of {name}", "outside", "a hole inside ring 1")
    polygon = Polygon(shell, holes)
    if not polygon.is_valid:
        raise OutOfRange(
            f"holes of {name}", shapely.is_valid_reason(polygon), "clear of each other"
        )
    return polygon


def _ring(positions: Any, name: str, reference: list[float]) -> LinearRing:
    """Return one checked ring, its longitudes running on across the antimeridian."""
    if not isinstance(positions, list | tuple) or len(positions) < 4:
        raise OutOfRange(name, positions, "a list of 4 positions or more")
    points = [
        _position(position, f"position {n} of {name}") for n, position in enumerate(positions, 1)
    ]
    if points[0] != points[-1]:
        raise OutOfRange(
            f"last position of {name}",
            points[-1],
            "the same as the first, {first}",
            first=points[0],
        )
    if not reference:
        reference.append(points[0][0])
    longitudes = _running_on([lon for lon, _ in points], reference[0])
    if longitudes[0] != longitudes[-1]:
        raise OutOfRange(name, "round a pole", "a ring that does not go round a pole")
    ring = LinearRing(zip(longitudes, (lat for _, lat in points), strict=True))
    if not ring.is_simple:
        raise OutOfRange(name, "crossing itself", "a ring that does not cross or retrace itself")
    return ring


def _position(position: Any, name: str) -> Position:
    """Return one checked position."""
    if not isinstance(position, list | tuple) or len(position) < 2:
        raise OutOfRange(name, position, "a longitude and a latitude")
    for value, axis, bound in zip(position, ("longitude", "latitude"), (180, 90), strict=False):
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise OutOfRange(f"{axis} at {name}", value, "a number")
        if not -bound <= value <= bound:
            raise OutOfRange(
                f"{axis} at {name}", value, "between −{limit} and {limit} °", limit=bound
            )
    return float(position[0]), float(position[1])


def _running_on(longitudes: list[float], start: float) -> list[float]:
    """Return the longitudes without a jump of a whole turn, near `start`."""
    result: list[float] = []
    for longitude in longitudes:
        previous = result[-1] if result else start
        # Whole turns are added exactly, so that a closed ring stays closed.
        result.append(longitude + 360.0 * round((previous - longitude) / 360.0))
    return result


def _measure(ring: LinearRing) -> tuple[float, float]:
    """Return the area [m²], never negative, and the length [m] of a ring on the ellipsoid."""
    longitudes, latitudes = ring.xy
    area, length = _WGS84.polygon_area_perimeter(longitudes, latitudes)
    return abs(float(area)), float(length)


def _map_around(polygons: MultiPolygon) -> Callable[..., Any]:
    """Return the azimuthal equidistant map centred on a field, longitude, latitude to metres."""
    centre = polygons.centroid
    return Proj(proj="aeqd", lat_0=centre.y, lon_0=centre.x, ellps="WGS84")


def _place(place: GeoJson) -> Any:
    """Return a checked place of any type but a collection."""
    kind, coordinates = place.get("type"), place.get("coordinates")
    if kind not in _PLACES:
        raise OutOfRange("place.type", kind, "one of {list}", list=", ".join(_PLACES))
    if kind in ("Polygon", "MultiPolygon"):
        return MultiPolygon(_polygons(place))
    depth = {"Point": 0, "MultiPoint": 1, "LineString": 1, "MultiLineString": 2}[kind]
    checked = _positions(coordinates, depth, "place.coordinates")
    return shapely_shape({"type": kind, "coordinates": checked})


def _positions(coordinates: Any, depth: int, name: str) -> Any:
    """Return checked positions, nested `depth` lists deep."""
    if depth == 0:
        return _position(coordinates, name)
    if not isinstance(coordinates, list | tuple) or not coordinates:
        raise OutOfRange(name, coordinates, "a list that is not empty")
    return [_positions(part, depth - 1, name) for part in coordinates]
