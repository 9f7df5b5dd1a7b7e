"""The primitives: hatching, round numbers, and labels that keep out of each other's way."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from logbook.documents.drawing import (
    Box,
    Labels,
    Text,
    box_of,
    hatch,
    inside,
    text_width,
    ticks,
)

SQUARE = [(10.0, 10.0), (30.0, 10.0), (30.0, 20.0), (10.0, 20.0)]


def length(line):
    return math.hypot(line.x2 - line.x1, line.y2 - line.y1)


def test_a_hatch_stays_inside_and_its_strokes_are_the_gap_apart():
    lines = list(hatch([SQUARE], gap=2.0))
    assert lines
    for line in lines:
        for x, y in ((line.x1, line.y1), (line.x2, line.y2)):
            assert 10.0 <= x <= 30.0
            assert 10.0 - 1e-9 <= y <= 20.0 + 1e-9
    # Strokes run at 45°: their x + y is constant and grows by gap·√2.
    levels = [line.x1 + line.y1 for line in lines]
    assert levels == pytest.approx([line.x2 + line.y2 for line in lines])
    steps = [after - before for before, after in pairwise(levels)]
    assert steps == pytest.approx([2.0 * math.sqrt(2.0)] * len(steps))


def test_a_hatch_covers_the_area_that_its_gap_says():
    # Stroke length times gap approximates the area: 20 · 10.
    assert sum(map(length, hatch([SQUARE], gap=0.5))) * 0.5 == pytest.approx(200.0, rel=0.02)


def test_a_hatch_leaves_a_hole_empty():
    hole = [(15.0, 12.0), (25.0, 12.0), (25.0, 18.0), (15.0, 18.0)]
    lines = list(hatch([SQUARE, hole], gap=0.5))
    assert sum(map(length, lines)) * 0.5 == pytest.approx(200.0 - 60.0, rel=0.02)
    for line in lines:
        middle_x, middle_y = (line.x1 + line.x2) / 2, (line.y1 + line.y2) / 2
        assert not (15.0 < middle_x < 25.0 and 12.0 < middle_y < 18.0)


@pytest.mark.parametrize(
    ("low", "high", "most", "shown"),
    [
        (0.0, 10.0, 5, [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]),
        (3.1, 14.2, 4, [5.0, 10.0]),
        (204.0, 640.0, 5, [300.0, 400.0, 500.0, 600.0]),
        (0.011, 0.05, 4, [0.02, 0.03, 0.04, 0.05]),
    ],
)
def test_ticks_are_round_and_inside(low, high, most, shown):
    assert ticks(low, high, most=most) == pytest.approx(shown)


def test_the_room_kept_for_a_text_grows_with_it():
    assert text_width("17.6", 10.0) == pytest.approx(3 * 5.8 + 3.3)
    assert text_width("W", 10.0) > text_width("w", 10.0) > text_width("i", 10.0)


@pytest.mark.parametrize(("anchor", "left"), [("start", 50.0), ("middle", 44.2), ("end", 38.4)])
def test_the_box_of_a_text_follows_its_anchor(anchor, left):
    assert box_of(Text(50.0, 20.0, "12", 10.0, anchor=anchor)).left == pytest.approx(left)


@pytest.mark.parametrize(("x", "moved"), [(50.0, 50.0), (2.0, 5.8), (99.0, 94.2)])
def test_a_text_is_moved_in_no_farther_than_needed(x, moved):
    text = inside(Text(x, 20.0, "12", 10.0, anchor="middle"), left=0.0, right=100.0)
    assert text.x == pytest.approx(moved)


def test_boxes_that_touch_do_not_meet():
    assert Box(0, 0, 10, 10).meets(Box(9, 9, 20, 20))
    assert not Box(0, 0, 10, 10).meets(Box(10, 0, 20, 10))
    assert not Box(0, 0, 10, 10).meets(Box(0, 10, 10, 20))


def test_a_label_takes_the_first_free_place():
    labels = Labels(within=Box(0, 0, 100, 100))
    assert labels.put(Text(10, 50, "one", 10))
    assert labels.put(Text(10, 50, "two", 10), Text(10, 70, "two", 10))
    assert [text.y for text in labels.texts] == [50, 70]


def test_a_label_without_a_free_place_is_left_out():
    labels = Labels(within=Box(0, 0, 100, 100))
    labels.keep_free(Box(0, 0, 100, 60))
    assert not labels.put(Text(10, 50, "covered", 10))
    assert not labels.put(Text(90, 90, "beyond the edge", 10))
    assert labels.texts == []
