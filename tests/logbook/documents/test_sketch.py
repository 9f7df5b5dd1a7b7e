"""The field sketch: north up, true to shape, with a round scale bar and the wind's arrow."""

from __future__ import annotations

import math

import pytest

from logbook.documents.drawing import Curve, Line, Polygon, Text, box_of
from logbook.documents.sections import SKETCH
from logbook.documents.sketch import field_sketch, mean_wind_from
from tests.logbook.checks.build import L_SHAPE, q, reading


def sketch(boundary=L_SHAPE, wind=300.0, system="us", **size):
    return field_sketch(boundary, name="North L", wind_from_deg=wind, system=system, **size)


def outline(drawing):
    return next(s for s in drawing.shapes if isinstance(s, Polygon) and s.role == "shade")


def box(lon, lat, wide, tall):
    ring = [[lon, lat], [lon + wide, lat], [lon + wide, lat + tall], [lon, lat + tall], [lon, lat]]
    return {"type": "Polygon", "coordinates": [ring]}


def span(points):
    xs, ys = zip(*points, strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)


def test_the_aspect_of_the_field_is_kept():
    # At the equator a degree of longitude is 111.32 km, one of latitude 110.57 km (WGS 84).
    wide, tall = span(outline(sketch(box(10.0, 0.0, 0.02, 0.01))).rings[0])
    assert wide / tall == pytest.approx(2 * 111.32 / 110.574, rel=1e-3)


def test_north_is_up_and_east_is_right():
    # The L has its long arm in the north-west: corner (-97.20, 47.108) is up and left.
    ring = outline(sketch()).rings[0]
    lowest = max(y for _, y in ring)
    highest = min(y for _, y in ring)
    top = [x for x, y in ring if abs(y - highest) < 1.0]
    bottom = [x for x, y in ring if abs(y - lowest) < 1.0]
    assert min(top) == pytest.approx(min(bottom), abs=1.0)
    assert max(top) < max(bottom) - 20.0


def test_a_hole_is_a_ring_of_its_own():
    ring = [[-97.198, 47.102], [-97.196, 47.102], [-97.196, 47.1035], [-97.198, 47.1035]]
    holed = {"type": "Polygon", "coordinates": [*L_SHAPE["coordinates"], [*ring, ring[0]]]}
    assert len(outline(sketch(holed)).rings) == 2


@pytest.mark.parametrize(("system", "unit", "metres"), [("us", "ft", 0.3048), ("metric", "m", 1.0)])
@pytest.mark.parametrize("wide", [0.0005, 0.003, 0.05])
def test_the_scale_bar_is_as_long_as_it_says(system, unit, metres, wide):
    drawing = sketch(box(10.0, 0.0, wide, wide), system=system)
    bar = next(s for s in drawing.shapes if isinstance(s, Curve) and len(s.points) == 4)
    length, _ = span(bar.points)
    said = next(s.text for s in drawing.shapes if isinstance(s, Text) and s.text.endswith(unit))
    number = float(said.split()[0])
    assert f"{number:e}"[0] in "125"
    assert f"{number:.0e}" == f"{number:.3e}".replace(".000", "")
    field_wide, _ = span(outline(drawing).rings[0])
    assert length / field_wide == pytest.approx(number * metres / (wide * 111_320), rel=2e-3)
    assert length <= 0.3 * drawing.width


@pytest.mark.parametrize(
    ("wind", "east", "south"), [(0.0, 0, 1), (90.0, -1, 0), (180.0, 0, -1), (270.0, 1, 0)]
)
def test_the_arrow_flies_with_the_wind(wind, east, south):
    drawing = sketch(wind=wind)
    shaft = next(s for s in drawing.shapes if isinstance(s, Curve) and s.role == "caution")
    (x1, y1), (x2, y2) = shaft.points
    length = math.dist((x1, y1), (x2, y2))
    assert ((x2 - x1) / length, (y2 - y1) / length) == pytest.approx((east, south), abs=1e-9)


def test_the_wind_is_named_by_where_it_comes_from():
    told = [shape.text for shape in sketch().shapes if isinstance(shape, Text)]
    assert told[-2:] == ["wind from", "WNW (300°)"]
    assert sketch().description == (
        "Outline of the field, north up; wind from WNW (300°); the scale bar is 1000 ft long."
    )


def test_an_unknown_wind_has_no_arrow():
    drawing = sketch(wind=None)
    assert not [s for s in drawing.shapes if getattr(s, "role", "") == "caution"]
    assert "wind not known" in drawing.description


def test_north_points_up():
    shaft = next(s for s in sketch().shapes if isinstance(s, Line))
    assert shaft.x1 == shaft.x2
    assert shaft.y2 < shaft.y1


@pytest.mark.parametrize("size", [{}, SKETCH])
@pytest.mark.parametrize("wind", [None, 337.5])
def test_texts_and_outline_keep_apart_and_inside(size, wind):
    for boundary in (L_SHAPE, box(10.0, 50.0, 0.1, 0.001), box(10.0, 50.0, 0.0001, 0.1)):
        drawing = sketch(boundary, wind, **size)
        boxes = [box_of(s) for s in drawing.shapes if isinstance(s, Text)]
        for place, one in enumerate(boxes):
            assert one.left >= 0.0
            assert one.right <= drawing.width
            assert one.bottom <= drawing.height
            assert not any(one.meets(other) for other in boxes[place + 1 :])
        lowest = max(y for ring in outline(drawing).rings for _, y in ring)
        assert lowest < min(one.top for one in boxes)


def test_corners_that_fall_together_are_drawn_once():
    ring = [[10.0 + 0.01 * math.cos(a / 500), 0.01 * math.sin(a / 500)] for a in range(3141)]
    circle = {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}
    assert len(outline(sketch(circle)).rings[0]) < 2000


def test_the_wind_of_the_readings_is_their_vector_mean():
    readings = [reading("9:00", wind_from=q("350 °")), reading("10:00", wind_from=q("10 °"))]
    # The mean of 350° and 10° is north, not south.
    assert mean_wind_from(readings) == pytest.approx(0.0, abs=1e-9)


def test_a_reading_without_direction_or_speed_does_not_count():
    readings = [
        reading("9:00", wind_from=q("90 °")),
        reading("10:00", wind_from=None),
        reading("11:00", wind_speed=q("not measured: broken meter")),
    ]
    assert mean_wind_from(readings) == pytest.approx(90.0)
    assert mean_wind_from(readings[1:]) is None
    assert mean_wind_from([]) is None
