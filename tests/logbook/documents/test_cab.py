"""The drawings of the cab: where things lie on them, and what they say to who cannot see them."""

from __future__ import annotations

import math

import pytest

from logbook.documents import cab, svg
from logbook.documents.drawing import Circle, Curve, Line, Polygon, Rect, Text
from tests.factories import L_SHAPE


def test_a_small_field_lies_within_its_box_and_keeps_its_shape() -> None:
    drawing = cab.small_field(L_SHAPE)
    (outline,) = (one for one in drawing.shapes if isinstance(one, Polygon))
    corners = [corner for ring in outline.rings for corner in ring]
    assert all(0 <= x <= 44 and 0 <= y <= 44 for x, y in corners)
    # The L lacks its north-east quarter: nothing is drawn up there to the right.
    assert not any(x > 24 and y < 18 for x, y in corners)
    text = svg.to_svg(drawing)
    assert 'aria-hidden="true"' in text
    assert "<title" not in text


@pytest.mark.parametrize("fill", ["", "hatched", "shaded", "crossed"])
def test_each_state_of_a_small_field_looks_its_own_way(fill: cab.Fill) -> None:
    looks = {
        one: cab.small_field(L_SHAPE, fill=one).shapes
        for one in ("", "hatched", "shaded", "crossed")
    }
    assert sum(looks[fill] == one for one in looks.values()) == 1


def test_without_an_outline_it_is_a_plain_box() -> None:
    drawing = cab.small_field(None)
    (box,) = (one for one in drawing.shapes if isinstance(one, Polygon))
    assert len(box.rings[0]) == 4
    assert any(isinstance(one, Line) and one.role == "rule" for one in drawing.shapes)


def test_north_is_up_on_the_ring_and_east_at_the_right() -> None:
    drawing = cab.wind_ring(L_SHAPE, name="North L", wind_from_deg=None)
    letters = {one.text: (one.x, one.y) for one in drawing.shapes if isinstance(one, Text)}
    assert letters["N"][1] < letters["E"][1] < letters["S"][1]
    assert letters["W"][0] < letters["N"][0] < letters["E"][0]
    assert drawing.description == "North is up; wind not known."


def test_the_arrow_comes_from_where_the_wind_comes_from() -> None:
    # A wind is named by where it comes from (WMO guide to instruments): from 225° it flies from the
    # south-west to the middle.
    drawing = cab.wind_ring(L_SHAPE, name="North L", wind_from_deg=225.0)
    (shaft,) = (one for one in drawing.shapes if isinstance(one, Curve))
    (x1, y1), (x2, y2) = shaft.points
    assert x1 < x2 < 126
    assert y1 > y2 > 126
    assert math.isclose(126 - x1, y1 - 126, abs_tol=1e-6)
    assert "wind from SW (225°)" in drawing.description


def test_the_labels_band_lies_on_the_slide_where_its_numbers_are() -> None:
    drawing = cab.speed_slide(most=20, unit="mph", low=3, high=15, words="3 to 15 mph")
    (band,) = (one for one in drawing.shapes if isinstance(one, Polygon))
    xs = [x for x, _y in band.rings[0]]
    # 14 is 0 and 316 is 20: 3 at 59.3, 15 at 240.5.
    assert (min(xs), max(xs)) == pytest.approx((59.3, 240.5))
    assert drawing.description == "The label allows 3 to 15 mph."
    open_above = cab.speed_slide(most=20, unit="mph", low=3, high=None, words="at least 3 mph")
    (band,) = (one for one in open_above.shapes if isinstance(one, Polygon))
    assert max(x for x, _y in band.rings[0]) == 316
    none = cab.speed_slide(most=20, unit="mph", low=None, high=None, words="")
    assert not any(isinstance(one, Polygon) for one in none.shapes)


def test_a_boom_has_its_tips_in_the_colour_of_their_size_and_marks_those_that_are_off() -> None:
    drawing = cab.boom(count=48, size="05", off=(31,))
    tips = [one for one in drawing.shapes if isinstance(one, Rect) and one.y == 6]
    assert len(tips) == 48
    assert {one.role for one in tips} == {"swatch-size-05"}  # brown, ISO 10625
    (mark,) = (one for one in drawing.shapes if isinstance(one, Polygon))
    middle = tips[30].x + tips[30].width / 2
    assert mark.rings[0][0][0] == pytest.approx(middle)
    assert drawing.description == "48 tips, 05 brown"
    assert cab.boom(count=1, size="").description == "1 tip"
    assert all(one.x >= 0 and one.x + one.width <= 330 for one in tips)
    assert not any(isinstance(one, Circle) for one in drawing.shapes)
