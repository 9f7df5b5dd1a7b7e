"""Areas, distances and swaths; the oracle is geographiclib, an implementation apart from ours."""

import math
from itertools import pairwise

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Proj

from calc.errors import OutOfRange
from calc.geometry import (
    area_ha,
    check_shape,
    inside_point,
    local_outline,
    local_place,
    nearest,
    perimeter_m,
    swath_coverage,
)
from calc.units import convert
from tests.calc.vectors import Row, check, ids

Point = tuple[float, float]


def polygon(*rings: list[Point]) -> dict:
    return {"type": "Polygon", "coordinates": [[*ring, ring[0]] for ring in rings]}


def multipolygon(*parts: list[list[Point]]) -> dict:
    return {
        "type": "MultiPolygon",
        "coordinates": [polygon(*part)["coordinates"] for part in parts],
    }


def box(west: float, south: float, east: float, north: float) -> list[Point]:
    return [(west, south), (east, south), (east, north), (west, north)]


def oracle(ring: list[Point]) -> tuple[float, float]:
    shape = Geodesic.WGS84.Polygon()
    for lon, lat in ring:
        shape.AddPoint(lat, lon)
    _, perimeter, area = shape.Compute()
    return abs(area), perimeter


FIELD_RING = box(-99.00, 41.00, -98.99, 41.0075)
FIELD = polygon(FIELD_RING)


def utm_square(x: dict) -> dict:
    utm = Proj(proj="utm", zone=int(x["zone"]), ellps="WGS84")
    west, south, side = x["west"], x["south"], x["side"]
    ring = box(west, south, west + side, south + side)
    return polygon([utm(east, north, inverse=True) for east, north in ring])


def compute(row: Row) -> float:
    x = row.inputs
    want = x["want"]
    if want == "area_utm":
        return area_ha(shape=utm_square(x)) * 10_000
    if want == "perimeter_utm":
        return perimeter_m(shape=utm_square(x))
    if want.startswith("rectangle"):
        square_feet = x["length"] * x["width"]
        acres = convert(square_feet, from_unit="ft2", to_unit="ac")
        return acres if want == "rectangle_ac" else square_feet
    if want in ("applied", "covered", "overlap"):
        passes = [
            [(n * x["apart"], 0.0), (n * x["apart"], x["length"])] for n in range(int(x["passes"]))
        ]
        found = swath_coverage(passes=passes, swath_m=x["swath"])
        return {
            "applied": found.applied_ha,
            "covered": found.covered_ha,
            "overlap": found.overlap,
        }[want]
    points = list(zip(x["lon"], x["lat"], strict=True))
    if want in ("distance", "bearing"):
        # A triangle that points at the place with its first corner.
        (lon, lat), place = points
        back_lon, back_lat = math.copysign(0.005, lon - place[0]), -0.005 * (place[1] != lat)
        if place[0] == lon:
            ring = [(lon, lat), (lon - 0.002, lat + back_lat), (lon + 0.002, lat + back_lat)]
        else:
            ring = [(lon, lat), (lon + back_lon, lat + 0.002), (lon + back_lon, lat - 0.002)]
        found = nearest(field=polygon(ring), place={"type": "Point", "coordinates": place})
        return found.distance_m if want == "distance" else found.bearing_deg
    shape = polygon(points)
    return {
        "area": area_ha(shape=shape) * 10_000,
        "acres": convert(area_ha(shape=shape), from_unit="ha", to_unit="ac"),
        "perimeter": perimeter_m(shape=shape),
    }[want]


@pytest.mark.parametrize("example", ids("geometry"))
def test_worked_example(example):
    check("geometry", example, {example: compute})


@given(
    lon=st.floats(-180.0, 180.0),
    lat=st.floats(-80.0, 80.0),
    corners=st.lists(st.floats(0.0, 359.0), min_size=3, max_size=9, unique_by=lambda a: a // 10),
    size=st.floats(0.001, 0.02),
)
def test_area_and_perimeter_agree_with_geographiclib_anywhere(lon, lat, corners, size):
    # Corners in turn round a centre never cross; near 180° the ring lies across the antimeridian.
    ring = []
    for angle in sorted(corners):
        east = lon + size * math.cos(math.radians(angle))
        north = lat + size * math.sin(math.radians(angle))
        ring.append(((east + 180.0) % 360.0 - 180.0, north))
    area, perimeter = oracle(ring)
    assert area_ha(shape=polygon(ring)) * 10_000 == pytest.approx(area, abs=0.01)
    assert perimeter_m(shape=polygon(ring)) == pytest.approx(perimeter, abs=1e-6)


def test_a_hole_is_left_out_of_the_area_and_counts_for_the_perimeter():
    hole = box(-98.996, 41.002, -98.994, 41.004)
    shape = polygon(FIELD_RING, hole)
    (outer, around), (inner, edge) = oracle(FIELD_RING), oracle(hole)
    assert area_ha(shape=shape) * 10_000 == pytest.approx(outer - inner, abs=0.001)
    assert perimeter_m(shape=shape) == pytest.approx(around + edge, abs=1e-6)


def test_parts_add_up_and_may_share_a_fence():
    other = box(-98.99, 41.00, -98.98, 41.0075)
    shape = multipolygon([FIELD_RING], [other])
    together = oracle(FIELD_RING)[0] + oracle(other)[0]
    assert area_ha(shape=shape) * 10_000 == pytest.approx(together, abs=0.001)


def test_a_field_cut_at_the_antimeridian_equals_the_field_left_whole():
    whole = polygon(box(179.99, -17.0, -179.99, -16.99))
    cut = multipolygon([box(179.99, -17.0, 180.0, -16.99)], [box(-180.0, -17.0, -179.99, -16.99)])
    # The cut puts a corner on each long side, which follows its chord of 2 km, not the geodesic.
    assert area_ha(shape=cut) == pytest.approx(area_ha(shape=whole), rel=1e-6)


def test_altitudes_are_not_read():
    shape = {
        "type": "Polygon",
        "coordinates": [[[*p, 500.0] for p in [*FIELD_RING, FIELD_RING[0]]]],
    }
    assert area_ha(shape=shape) == area_ha(shape=FIELD)


def test_order_of_positions_does_not_matter():
    assert area_ha(shape=polygon(FIELD_RING[::-1])) == pytest.approx(
        area_ha(shape=FIELD), rel=1e-12
    )


def test_check_shape_is_silent_on_a_good_field():
    assert check_shape(shape=FIELD) is None


def test_outline_has_the_size_of_the_field_around_its_centroid():
    (ring,) = local_outline(shape=FIELD)
    assert len(ring) == 5
    assert ring[0] == ring[-1]
    width = Geodesic.WGS84.Inverse(41.0, -99.00, 41.0, -98.99)["s12"]
    height = Geodesic.WGS84.Inverse(41.0, -99.0, 41.0075, -99.0)["s12"]
    assert ring[1][0] - ring[0][0] == pytest.approx(width, abs=0.01)
    assert ring[3][1] - ring[0][1] == pytest.approx(height, abs=0.01)
    assert sum(east for east, _ in ring[:4]) == pytest.approx(0.0, abs=0.5)
    assert all(type(number) is float for point in ring for number in point)


@pytest.mark.parametrize(
    "shape",
    [
        FIELD,
        # The centroid of this one lies in its hole.
        polygon(FIELD_RING, box(-98.998, 41.001, -98.992, 41.0065)),
        polygon(box(179.99, -17.0, -179.99, -16.99)),
        multipolygon([FIELD_RING], [box(-98.99, 41.00, -98.98, 41.0075)]),
    ],
)
def test_the_point_inside_a_field_is_inside(shape):
    lon, lat = inside_point(shape=shape)
    assert -180.0 <= lon < 180.0
    found = nearest(field=shape, place={"type": "Point", "coordinates": [lon, lat]})
    assert found.distance_m == 0.0


def test_outline_keeps_holes_and_parts_apart():
    hole = box(-98.996, 41.002, -98.994, 41.004)
    other = box(-98.98, 41.00, -98.97, 41.0075)
    assert len(local_outline(shape=multipolygon([FIELD_RING, hole], [other]))) == 3


def test_outline_across_the_antimeridian_is_one_piece():
    (ring,) = local_outline(shape=polygon(box(179.99, -17.0, -179.99, -16.99)))
    assert max(abs(east) for east, _ in ring) < 1200.0


@given(bearing=st.floats(0.0, 359.9), distance=st.floats(1100.0, 20_000.0))
def test_nearest_agrees_with_geographiclib(bearing, distance):
    # From the centre outward; the oracle measures from the point of the boundary that we name.
    centre = Geodesic.WGS84.Direct(41.00375, -98.995, bearing, distance)
    place = {"type": "Point", "coordinates": [centre["lon2"], centre["lat2"]]}
    found = nearest(field=FIELD, place=place)
    lon, lat = found.field_position
    line = Geodesic.WGS84.Inverse(lat, lon, centre["lat2"], centre["lon2"])
    assert found.distance_m == pytest.approx(line["s12"], abs=1e-6)
    assert 0.0 <= found.bearing_deg < 360.0
    assert (found.bearing_deg - line["azi1"] + 180.0) % 360.0 == pytest.approx(180.0, abs=1e-6)
    # No point of the boundary is nearer: walk it in steps of about 4 m.
    corners = [*FIELD_RING, FIELD_RING[0]]
    for (a_lon, a_lat), (b_lon, b_lat) in pairwise(corners):
        for step in range(0, 201, 5):
            part = step / 200
            other = Geodesic.WGS84.Inverse(
                a_lat + part * (b_lat - a_lat),
                a_lon + part * (b_lon - a_lon),
                centre["lat2"],
                centre["lon2"],
            )
            assert found.distance_m <= other["s12"] + 0.05


@pytest.mark.parametrize(
    ("place", "bearing"),
    [
        ({"type": "Point", "coordinates": [-98.98, 41.004]}, 90.0),
        ({"type": "MultiPoint", "coordinates": [[-98.0, 41.0], [-98.995, 41.01]]}, 0.0),
        ({"type": "LineString", "coordinates": [[-99.01, 40.9], [-99.01, 41.1]]}, 270.0),
        ({"type": "MultiLineString", "coordinates": [[[-99.1, 40.99], [-98.9, 40.99]]]}, 180.0),
        (polygon(box(-98.98, 41.0, -98.97, 41.0075)), 90.0),
        (multipolygon([box(-98.98, 41.0, -98.97, 41.0075)]), 90.0),
    ],
)
def test_bearing_to_every_kind_of_place(place, bearing):
    found = nearest(field=FIELD, place=place)
    assert found.distance_m > 200.0
    turn = abs(found.bearing_deg - bearing) % 360.0
    assert min(turn, 360.0 - turn) < 0.2


def test_a_place_that_touches_or_lies_inside_is_at_distance_zero_without_a_bearing():
    for place in ([-98.995, 41.004], [-99.0, 41.0]):
        found = nearest(field=FIELD, place={"type": "Point", "coordinates": place})
        assert (found.distance_m, found.bearing_deg) == (0.0, None)


def test_a_place_in_a_hole_is_outside_the_field():
    shape = polygon(FIELD_RING, box(-98.996, 41.002, -98.994, 41.004))
    found = nearest(field=shape, place={"type": "Point", "coordinates": [-98.995, 41.003]})
    assert 50.0 < found.distance_m < 120.0


def test_a_place_across_the_antimeridian_is_near():
    field = polygon(box(179.98, -17.0, 179.99, -16.99))
    found = nearest(field=field, place={"type": "Point", "coordinates": [-179.99, -16.995]})
    oracle_m = Geodesic.WGS84.Inverse(-16.995, 179.99, -16.995, -179.99)["s12"]
    assert found.distance_m == pytest.approx(oracle_m, abs=0.01)
    assert found.bearing_deg == pytest.approx(90.0, abs=0.01)


@given(n=st.integers(1, 6), apart=st.floats(1.0, 60.0))
def test_overlap_follows_from_the_distance_of_the_passes(n, apart):
    passes = [[(k * apart, 0.0), (k * apart, 300.0)] for k in range(n)]
    found = swath_coverage(passes=passes, swath_m=24.0)
    assert found.applied_ha == pytest.approx(n * 24.0 * 300.0 / 1e4)
    width = 24.0 + (n - 1) * min(apart, 24.0)
    assert found.covered_ha == pytest.approx(width * 300.0 / 1e4)
    assert found.overlap == pytest.approx(n * 24.0 / width - 1.0, abs=1e-9)


def test_a_pass_driven_twice_covers_once():
    line = [(0.0, 0.0), (0.0, 100.0), (50.0, 200.0)]
    once = swath_coverage(passes=[line], swath_m=10.0)
    twice = swath_coverage(passes=[line, line], swath_m=10.0)
    assert twice.covered_ha == pytest.approx(once.covered_ha)
    assert twice.applied_ha == pytest.approx(2 * once.applied_ha)


@pytest.mark.parametrize(
    ("shape", "message"),
    [
        (
            {"type": "Point", "coordinates": [0, 0]},
            r"^shape.type is 'Point'; it must be Polygon or",
        ),
        ({}, r"^shape.type is None; it must be Polygon or MultiPolygon"),
        (
            {"type": "MultiPolygon", "coordinates": []},
            r"^shape.coordinates is \[\]; it must be a li",
        ),
        (
            {"type": "MultiPolygon"},
            r"^shape.coordinates is None; it must be a list with one polygon",
        ),
        (
            {"type": "Polygon", "coordinates": []},
            r"^polygon 1 is \[\]; it must be a list with one r",
        ),
        (
            {"type": "Polygon", "coordinates": [5]},
            r"^ring 1 of polygon 1 is 5; it must be a list of",
        ),
        (
            {"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [0, 0]]]},
            r"^ring 1 of polygon 1 is .*; it must be a list of 4 positions or more",
        ),
        (
            {"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [1, 1], [0, 1]]]},
            r"^last position of ring 1 of polygon 1 is \(0.0, 1.0\); it must be the same as the f",
        ),
        (
            {"type": "Polygon", "coordinates": [[[0, 0], [1], [1, 1], [0, 0]]]},
            r"^position 2 of ring 1 of polygon 1 is \[1\]; it must be a longitude and a latitude",
        ),
        (
            {"type": "Polygon", "coordinates": [[[0, 0], ["1", 0], [1, 1], [0, 0]]]},
            r"^longitude at position 2 of ring 1 of polygon 1 is '1'; it must be a number",
        ),
        (
            {"type": "Polygon", "coordinates": [[[0, 0], [1, True], [1, 1], [0, 0]]]},
            r"^latitude at position 2 of ring 1 of polygon 1 is True; it must be a number",
        ),
        (
            polygon([(0, 0), (181, 0), (1, 1)]),
            r"^longitude at position 2 .* 181; .* −180 and 180 °",
        ),
        # Latitude and longitude the wrong way round is the usual slip.
        (
            polygon([(41, -99), (41, -98), (42, -98)]),
            r"^latitude at position 1 .* is -99; .*−90 and",
        ),
        (
            polygon([(0, 0), (math.nan, 0), (1, 1)]),
            r"^longitude at position 2 .* is nan; it must be",
        ),
        (
            polygon([(0, 0), (1, math.inf), (1, 1)]),
            r"^latitude at position 2 .* is inf; it must be",
        ),
        (
            polygon([(0, 0), (1, 1), (1, 0), (0, 1)]),
            r"^ring 1 of polygon 1 is 'crossing itself'; it must be a ring that does not cross",
        ),
        (
            polygon([(0, 0), (1, 1), (2, 2)]),
            r"^ring 1 of polygon 1 is 'crossing itself'; it must be a ring that does not cross or",
        ),
        (
            polygon([(0, 80), (120, 80), (-120, 80)]),
            r"^ring 1 of polygon 1 is 'round a pole'; it must be a ring that does not go round",
        ),
        (
            polygon(box(0, 0, 1, 1), box(2, 2, 3, 3)),
            r"^ring 2 of polygon 1 is 'outside'; it must be a hole inside ring 1",
        ),
        (
            polygon(box(0, 0, 1, 1), box(0.1, 0.1, 0.5, 0.5), box(0.4, 0.4, 0.6, 0.6)),
            r"^holes of polygon 1 is '.*'; it must be clear of each other",
        ),
        (
            multipolygon([box(0, 0, 1, 1)], [box(0.5, 0.5, 2, 2)]),
            r"^polygon 2 is 'overlapping'; it must be clear of polygon 1",
        ),
    ],
)
@pytest.mark.parametrize(
    "function", [area_ha, perimeter_m, check_shape, local_outline, inside_point]
)
def test_refuses_a_shape_that_does_not_enclose_an_area_without_doubt(function, shape, message):
    with pytest.raises(OutOfRange, match=message):
        function(shape=shape)


@pytest.mark.parametrize(
    ("place", "message"),
    [
        (
            {"type": "GeometryCollection"},
            r"^place.type is 'GeometryCollection'; it must be one of P",
        ),
        (
            {"type": "Point", "coordinates": [0]},
            r"^place.coordinates is \[0\]; it must be a longit",
        ),
        (
            {"type": "Point", "coordinates": [0, 95]},
            r"^latitude at place.coordinates is 95; it must",
        ),
        (
            {"type": "LineString", "coordinates": []},
            r"^place.coordinates is \[\]; it must be a list",
        ),
        (
            {"type": "MultiLineString", "coordinates": 3},
            r"^place.coordinates is 3; it must be a lis",
        ),
        (
            {"type": "Point", "coordinates": [0.0, 0.0]},
            r"^distance to the place is .* at most 10000",
        ),
        (polygon([(0, 0), (1, 1), (1, 0), (0, 1)]), r"^ring 1 of polygon 1 is 'crossing itself'"),
    ],
)
def test_refuses_a_place_that_is_none_or_too_far(place, message):
    with pytest.raises(OutOfRange, match=message):
        nearest(field=FIELD, place=place)


@pytest.mark.parametrize(
    "line", [[], [(0.0, 0.0)], [(1.0, 1.0), (1.0, 1.0)], [(0.0, 0.0), (0.0, math.inf)]]
)
def test_refuses_a_pass_without_a_length(line):
    with pytest.raises(OutOfRange, match=r"^pass 2 is .*; it must be two or more positions with"):
        swath_coverage(passes=[[(0.0, 0.0), (0.0, 1.0)], line], swath_m=24.0)


def test_refuses_no_pass_and_no_swath():
    with pytest.raises(OutOfRange, match=r"^passes is \[\]; it must be one pass or more"):
        swath_coverage(passes=[], swath_m=24.0)
    with pytest.raises(OutOfRange, match=r"^swath_m is 0.0; it must be positive"):
        swath_coverage(passes=[[(0.0, 0.0), (0.0, 1.0)]], swath_m=0.0)


# --- a place on the map around a field ----------------------------------------------------------

WINDOW = (-2000.0, -2000.0, 2000.0, 2000.0)


def around(place: dict, buffer_m: float = 0.0):
    return local_place(field=FIELD, place=place, buffer_m=buffer_m, window=WINDOW)


def test_a_place_stands_on_the_map_of_the_field_where_it_lies():
    corner = {"type": "Point", "coordinates": list(FIELD_RING[0])}
    (east, north) = local_outline(shape=FIELD)[0][0]
    (point,) = around(corner).points
    assert point == pytest.approx((east, north), abs=1e-6)
    assert around({"type": "LineString", "coordinates": FIELD_RING[:2]}).lines
    (ring,) = around(FIELD).rings
    outline = local_outline(shape=FIELD)[0]
    assert len(ring) == len(outline)
    assert all(min(math.dist(one, other) for other in outline) < 1e-6 for one in ring)


def test_the_buffer_of_a_point_is_a_circle_about_it():
    # Area of a circle, pi r squared; a ring of straight pieces has a little less.
    (ring,) = around({"type": "Point", "coordinates": [-98.995, 41.004]}, 100.0).buffer
    area = abs(sum(a * d - b * c for (a, b), (c, d) in pairwise(ring))) / 2.0
    assert area == pytest.approx(math.pi * 100.0**2, rel=0.01)


def test_what_lies_beyond_the_window_is_not_drawn():
    far = around({"type": "Point", "coordinates": [-98.0, 41.0]}, 50.0)
    assert (far.points, far.lines, far.rings, far.buffer) == ([], [], [], [])


@pytest.mark.parametrize("buffer_m", [-1.0, 1e9, math.nan])
def test_a_buffer_that_cannot_be_is_refused(buffer_m):
    with pytest.raises(OutOfRange, match="buffer_m"):
        around({"type": "Point", "coordinates": list(FIELD_RING[0])}, buffer_m)
