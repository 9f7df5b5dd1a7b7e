"""The rate strip: where band, tick, dot and whisker stand, and what a reader is told."""

from __future__ import annotations

from itertools import combinations

import pytest
from django.utils import translation

from logbook.documents.drawing import Circle, Line, Text, box_of
from logbook.documents.strip import describe, outcome_of, rate_strip, role_of, scale_of
from logbook.localization.locale import plain_english
from tests.logbook.checks.build import clean
from tests.logbook.documents.sealed import rate_line

AGREES, NOT, OPEN = "agrees", "does not agree", "cannot be decided at this accuracy"


def shapes(line, kind, **size):
    return [shape for shape in rate_strip(line, **size).shapes if isinstance(shape, kind)]


def scale(line):
    """Return the scale as drawn: its axis is the one line in the role of a rule."""
    (axis,) = (shape for shape in shapes(line, Line) if shape.role == "rule")
    return scale_of(line, left=axis.x1, right=axis.x2)


def test_the_dot_stands_at_the_delivered_rate():
    line = rate_line()
    (dot,) = shapes(line, Circle)
    assert dot.x == pytest.approx(scale(line).at(17.6))
    assert dot.role == "agrees"


def test_the_scale_is_linear():
    at = scale(rate_line()).at
    assert at(17.5) == pytest.approx((at(15.0) + at(20.0)) / 2)
    assert at(20.0) - at(15.0) == pytest.approx(5 * (at(16.0) - at(15.0)))


def test_the_whisker_ends_at_the_uncertainty():
    line = rate_line()
    whisker = next(s for s in shapes(line, Line) if s.role == "agrees" and s.y1 == s.y2)
    assert whisker.x1 == pytest.approx(scale(line).at(17.6 - 0.7))
    assert whisker.x2 == pytest.approx(scale(line).at(17.6 + 0.7))


def test_without_an_uncertainty_the_whisker_has_no_length():
    line = rate_line(expanded=None)
    whisker = next(s for s in shapes(line, Line) if s.role == "agrees" and s.y1 == s.y2)
    assert whisker.x1 == whisker.x2 == pytest.approx(scale(line).at(17.6))


def test_the_hatch_lies_between_the_label_s_numbers():
    line = rate_line()
    strokes = [shape for shape in shapes(line, Line) if shape.role == "hatch"]
    ends = [x for stroke in strokes for x in (stroke.x1, stroke.x2)]
    assert min(ends) == pytest.approx(scale(line).at(15.0), abs=1e-6)
    assert max(ends) == pytest.approx(scale(line).at(20.0), abs=1e-6)


@pytest.mark.parametrize(
    ("open_end", "closed"), [({"label_min": None}, 20.0), ({"label_max": None}, 15.0)]
)
def test_a_band_with_an_open_end_runs_to_the_edge_and_has_no_edge_there(open_end, closed):
    line = rate_line(**open_end)
    strokes = [s for s in shapes(line, Line) if s.role == "hatch"]
    ends = [x for stroke in strokes for x in (stroke.x1, stroke.x2)]
    edge = scale(line).left if "label_min" in open_end else scale(line).right
    assert edge in (pytest.approx(min(ends)), pytest.approx(max(ends)))
    upright = [s.x1 for s in shapes(line, Line) if s.role == "ink" and s.x1 == s.x2]
    assert sorted(upright) == pytest.approx(sorted([scale(line).at(closed), scale(line).at(17.5)]))


def test_a_silent_label_has_no_band():
    line = rate_line(label_min=None, label_max=None)
    assert not [s for s in shapes(line, Line) if s.role == "hatch"]
    assert "label" not in " ".join(text.text for text in shapes(line, Text))


def test_the_tick_stands_at_the_planned_rate():
    line = rate_line(label_min=None, label_max=None)
    (tick,) = (s for s in shapes(line, Line) if s.role == "ink")
    assert tick.x1 == tick.x2 == pytest.approx(scale(line).at(17.5))


def test_the_numbers_stand_under_what_they_name():
    line = rate_line()
    texts = {text.text: text for text in shapes(line, Text)}
    assert set(texts) == {"delivered 17.6", "label 15", "planned 17.5", "20", "gal/ac"}
    assert texts["label 15"].x == pytest.approx(scale(line).at(15.0))
    assert texts["20"].x == pytest.approx(scale(line).at(20.0))
    assert texts["planned 17.5"].x == pytest.approx(scale(line).at(17.5))


CROWDED = [
    {},
    {"planned": 15.0},
    {"planned": 19.9, "label_max": 20.0},
    {"label_min": 17.45, "label_max": 17.6, "planned": 17.5},
    {"label_min": 1234.5, "label_max": 1235.0, "planned": 1234.7, "delivered": 1300.0},
    {"label_min": 1234.5, "label_max": 1235.0, "planned": None, "delivered": 900.0},
    {"label_min": None, "planned": 20.0},
    {"label_max": None, "planned": 15.2},
    {"planned": None, "delivered": None, "expanded": None},
    {"delivered": 40.0, "expanded": 4.0},
    {"unit": "L/ha", "label_min": 93.53956, "label_max": 180.0, "planned": 150.0},
    {"unit": "L/ha", "label_min": 93.53956, "label_max": 187.07913, "planned": 180.0},
]


@pytest.mark.parametrize(
    "size", [{}, {"width": 150.0, "size": 6.9}, {"width": 240.0, "size": 12.0}]
)
@pytest.mark.parametrize("changes", CROWDED)
def test_no_two_numbers_overlap_and_none_leaves_the_drawing(changes, size):
    line = rate_line(**changes)
    drawing = rate_strip(line, **size)
    boxes = [box_of(shape) for shape in drawing.shapes if isinstance(shape, Text)]
    for one, other in combinations(boxes, 2):
        assert not one.meets(other)
    for box in boxes:
        assert box.left >= -1e-6
        assert box.right <= drawing.width + 1e-6
        assert box.bottom <= drawing.height + 1e-6


def test_the_numbers_of_a_narrow_band_are_one_text_under_it():
    narrow = {"unit": "% v/v", "label_min": 0.1234, "label_max": 0.1235, "planned": 0.09}
    line = rate_line(**narrow, delivered=None, expanded=None)
    drawing = rate_strip(line, width=140.0, size=10.0)
    texts = {text.text: box_of(text) for text in drawing.shapes if isinstance(text, Text)}
    assert texts["label 0.1234 to 0.1235"].right == pytest.approx(140.0)


@pytest.mark.parametrize("changes", CROWDED)
def test_two_numbers_of_one_row_stand_an_em_apart(changes):
    texts = shapes(rate_line(**changes), Text)
    for one, other in combinations(texts, 2):
        if one.y == other.y:
            left, right = sorted((box_of(one), box_of(other)))
            assert right.left - left.right >= 12.0 - 1e-9


def test_a_limit_reckoned_from_another_unit_has_three_figures_and_one_as_given_all_its_own():
    # 10 gal/ac and 20 gal/ac: 93.5396 and 187.0792 L/ha (1 US gal = 3.785411784 L, NIST SP 811;
    # 1 ac = 0.40468564 ha).
    ends = (10 * 3.785411784 / 0.40468564224, 20 * 3.785411784 / 0.40468564224)
    line = rate_line(unit="L/ha", label_min=ends[0], label_max=ends[1], planned=180.0)
    assert "label asks 93.5 to 187;" in describe(line)
    assert "label asks 12.25 to 20.125;" in describe(rate_line(label_min=12.25, label_max=20.125))


@pytest.mark.parametrize("changes", CROWDED)
def test_no_number_is_left_out(changes):
    line = rate_line(**changes)
    shown = " ".join(shape.text for shape in shapes(line, Text))
    for name in ("planned", "label_min", "label_max"):
        value = getattr(line, name)
        assert value is None or f"{value:.4g}" in shown or f"{value:.3g}" in shown


def test_a_lone_number_stands_in_a_scale_that_shows_some_percent():
    line = rate_line(label_min=None, label_max=None, planned=None, expanded=None)
    shown = scale(line)
    assert shown.low < 0.9 * 17.6 < 1.1 * 17.6 < shown.high


def test_the_scale_does_not_go_below_nothing():
    line = rate_line(label_min=None, label_max=1.0, planned=0.01, delivered=0.01, expanded=0.0)
    assert scale(line).low == 0.0


def test_zero_alone_still_has_a_scale():
    line = rate_line(label_min=None, label_max=None, planned=None, delivered=0.0, expanded=0.0)
    assert (scale(line).low, scale(line).high) == (0.0, 1.0)


def test_a_line_without_any_number_says_so():
    empty = dict.fromkeys(("planned", "label_min", "label_max", "delivered", "expanded"))
    line = rate_line(**empty, against_planned="", against_label="")
    assert scale_of(line, left=0.0, right=100.0) is None
    (text,) = rate_strip(line).shapes
    assert text.text == "no rate planned, labelled or computed"
    assert describe(line) == (
        "Delivered rate not computed; label sets no rate; planned rate not given."
    )


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        (
            {"expanded": 0.7},
            "Delivered 17.6 gal/ac, between 16.9 and 18.3; label asks 15 to 20; "
            "planned 17.5: agrees.",
        ),
        (
            {"label_min": None, "expanded": None},
            "Delivered 17.6 gal/ac; label asks at most 20; planned 17.5: agrees.",
        ),
        (
            {"delivered": None, "expanded": None, "against_planned": "", "against_label": ""},
            "Delivered rate not computed; label asks 15 to 20 gal/ac; planned 17.5 gal/ac.",
        ),
        (
            {"planned": None, "against_planned": "", "against_label": NOT, "delivered": 22.0},
            "Delivered 22.0 gal/ac, between 21.3 and 22.7; label asks 15 to 20; "
            "planned rate not given: does not agree.",
        ),
    ],
)
def test_the_strip_is_told_in_one_sentence(changes, told):
    assert describe(rate_line(**changes)) == told
    assert rate_strip(rate_line(**changes)).description == told


@pytest.mark.parametrize(
    ("label", "plan", "again", "words", "role"),
    [
        (AGREES, AGREES, False, "agrees", "agrees"),
        (AGREES, AGREES, True, "label: agrees; plan: agrees, but not close: look again", "ink"),
        ("", AGREES, False, "agrees", "agrees"),
        ("", "", False, "", "ink"),
        (NOT, AGREES, False, "label: does not agree; plan: agrees", "breach"),
        (AGREES, NOT, True, "label: agrees; plan: does not agree", "mismatch"),
        (NOT, NOT, True, "does not agree", "breach"),
        (
            OPEN,
            AGREES,
            False,
            f"label: {OPEN}, whether it is within the label; plan: agrees",
            "ink",
        ),
        ("", OPEN, False, f"{OPEN}, whether it is near enough to the plan", "ink"),
    ],
)
def test_the_outcome_is_a_word_and_a_role(label, plan, again, words, role):
    line = rate_line(against_label=label, against_planned=plan, look_again=again)
    assert outcome_of(line) == words
    assert role_of(line) == role


def test_with_the_business_its_tolerances_are_named():
    business = clean().business
    again = rate_line(against_label=AGREES, against_planned=AGREES, look_again=True)
    assert outcome_of(again, business=business) == (
        "label: agrees; plan: agrees within 10 %, but more than 5 % off: look again"
    )
    near = rate_line(against_label="", against_planned=OPEN)
    assert outcome_of(near, business=business) == (f"{OPEN}, whether it is within 10 % of the plan")
    assert rate_strip(near, business=business).description == describe(near, business=business)


def test_a_page_reads_it_with_its_own_decimal_mark_and_paper_in_plain_english():
    with translation.override("es-es"):
        assert "17,6 gal/ac" in describe(rate_line())
        assert any("17,6" in text.text for text in shapes(rate_line(), Text))
        with plain_english():
            assert describe(rate_line()).startswith("Delivered 17.6 gal/ac, between 16.9 and 18.3")
            assert any(text.text == "delivered 17.6" for text in shapes(rate_line(), Text))
