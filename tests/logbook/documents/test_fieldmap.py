"""The field map: true to scale, with the ground to keep off, and told in words."""

from __future__ import annotations

import math
from types import SimpleNamespace

import pytest
from django.utils import translation

from logbook.documents.drawing import Circle, Polygon, Text
from logbook.documents.fieldmap import field_map, side, where
from logbook.documents.svg import to_svg
from tests.factories import q

SQUARE = {
    "type": "Polygon",
    "coordinates": [[[10.0, 0.0], [10.01, 0.0], [10.01, 0.01], [10.0, 0.01], [10.0, 0.0]]],
}


def place(shape, distance, bearing, keep_off=None, name="Pond"):
    return SimpleNamespace(
        name=name,
        kind="water",
        shape=shape,
        keep_off=keep_off,
        distance_m=distance,
        bearing_deg=bearing,
    )


# 0.002° of longitude at the equator: 222.6 m (WGS 84: 111.32 km a degree).
POND = place({"type": "Point", "coordinates": [10.012, 0.005]}, 222.6, 90.0, q("100 m"))


def drawn(places=(POND,), wind=270.0, system="metric"):
    return field_map(SQUARE, list(places), name="North", wind_from_deg=wind, system=system)


def test_the_ground_to_keep_off_is_drawn_at_its_distance():
    drawing = drawn()
    (spot,) = [shape for shape in drawing.shapes if isinstance(shape, Circle)]
    field = next(s for s in drawing.shapes if isinstance(s, Polygon) and s.role == "shade")
    xs = [x for x, _ in field.rings[0]]
    per_m = (max(xs) - min(xs)) / 1113.2
    assert (spot.x - max(xs)) / per_m == pytest.approx(222.6, rel=0.01)
    outlines = [s for s in drawing.shapes if isinstance(s, Polygon) and s.outline == "caution"]
    ring = next(s for s in outlines if not s.role).rings[0]
    reach = [math.dist((spot.x, spot.y), corner) / per_m for corner in ring]
    # All corners of the part that is inside the window lie on the circle, or on the window's edge.
    assert max(reach) == pytest.approx(100.0, rel=0.02)


def test_it_is_told_in_words():
    told = drawn().description
    assert "wind from W (270°)" in told
    assert "1: Pond (water), 222 m E, downwind." in told
    assert "No sensitive place" in drawn(places=()).description


def test_a_place_far_away_is_told_but_not_drawn():
    far = place({"type": "Point", "coordinates": [10.03, 0.005]}, 2226.0, 90.0)
    drawing = drawn(places=[far])
    assert not [shape for shape in drawing.shapes if isinstance(shape, Circle)]
    assert "2,226 m E" in drawing.description


@pytest.mark.parametrize(
    ("bearing", "wind", "words"),
    [
        (90.0, 270.0, "downwind"),
        (90.0, 90.0, "upwind"),
        (0.0, 270.0, "across"),
        (350.0, 170.0, "downwind"),
        (10.0, 350.0, "upwind"),
        (149.0, 270.0, "downwind"),
        (151.0, 270.0, "across"),
        (None, 12.0, "downwind"),
        (90.0, None, ""),
    ],
)
def test_the_side_is_where_the_wind_goes(bearing, wind, words):
    assert side(bearing_deg=bearing, wind_from_deg=wind) == words


def test_a_distance_is_never_rounded_up():
    near = place(POND.shape, 30.47, 22.5)
    assert where(near, wind_from_deg=None, system="us") == "99 ft NNE"
    touching = place(POND.shape, 0.0, None)
    assert where(touching, wind_from_deg=None, system="us") == "touches the field"


@pytest.mark.parametrize(
    "shape",
    [
        {"type": "LineString", "coordinates": [[10.012, -0.02], [10.012, 0.03]]},
        {
            "type": "Polygon",
            "coordinates": [[[10.011, 0], [10.02, 0], [10.02, 0.01], [10.011, 0.01], [10.011, 0]]],
        },
        {"type": "Point", "coordinates": [10.005, 0.005]},
    ],
)
def test_any_shape_is_drawn_within_the_window(shape):
    drawing = drawn(places=[place(shape, 100.0, 90.0, q("50 m")), POND])
    assert "1" in [shape.text for shape in drawing.shapes if isinstance(shape, Text)]
    for one in drawing.shapes:
        for ring in getattr(one, "rings", ()):
            for x, y in ring:
                assert -0.1 <= x <= drawing.width + 0.1
                assert -0.1 <= y <= drawing.height + 0.1
    assert 'role="img"' in to_svg(drawing, key="map")


def test_a_distance_is_grouped_as_the_page_groups_its_numbers():
    # CLDR, es-ES: the decimal mark is a comma, so that one between thousands would be read as it.
    far = place(POND.shape, 1_234.5, 0.0)
    with translation.override("es-es"):
        assert where(far, wind_from_deg=None, system="metric").startswith("1\u202f234 m")
