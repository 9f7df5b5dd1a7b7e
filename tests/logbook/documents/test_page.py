"""Pages that fill: wrapping, tables that repeat their heads, marks in the margin."""

from __future__ import annotations

import pytest

from logbook.documents.drawing import Circle, Curve, Drawing, Line, Polygon, Rect, Text
from logbook.documents.marks import mark
from logbook.documents.page import (
    BODY,
    LEFT,
    NBSP,
    SMALL,
    TOP,
    Beside,
    Column,
    Placed,
    Row,
    Run,
    Sheet,
    lead,
    wrap,
)
from logbook.documents.typeface import width


def said(lines):
    return ["".join(run.text for _, run in line.pieces).strip() for line in lines]


def texts(page):
    return [shape for shape in page if isinstance(shape, Text)]


def test_words_wrap_where_the_room_ends():
    lines = wrap([Run("one two three four five six")], 60.0, 10.0)
    assert " ".join(said(lines)) == "one two three four five six"
    assert len(lines) > 1
    assert all(line.width <= 60.0 for line in lines)


def test_a_word_wider_than_the_room_is_cut_and_nothing_is_lost():
    lines = wrap([Run("a"), Run("Unbreakable" * 5, bold=True), Run("z", "quiet")], 50.0, 10.0)
    assert "".join(said(lines)) == "a" + "Unbreakable" * 5 + "z"
    assert all(line.width <= 50.0 for line in lines)


def test_runs_without_a_space_between_them_stay_on_one_line():
    runs = [Run("at "), Run("15.0"), Run(f"{NBSP}gal/ac", "quiet")]
    room = width("at 15.0 gal/", 10.0)
    assert said(wrap(runs, room, 10.0)) == ["at", f"15.0{NBSP}gal/ac"]


def test_pieces_begin_where_the_ones_before_them_end():
    (line,) = wrap([Run("15.0", bold=True), Run(" gal/ac", "quiet"), Run(" now")], 200.0, 10.0)
    (_, first), (second, quiet), (third, last) = line.pieces
    assert first.text == "15.0 "
    assert second == pytest.approx(width("15.0", 10.0, True) + width(" ", 10.0, True))
    assert quiet.text == "gal/ac "
    assert third == pytest.approx(second + width("gal/ac ", 10.0))
    assert line.width == pytest.approx(third + width(last.text, 10.0))


def test_line_breaks_as_entered_are_kept():
    assert said(wrap([Run("one\r\ntwo\n\nfour")], 200.0, 10.0)) == ["one", "two", "", "four"]


def test_nothing_makes_one_empty_line():
    assert said(wrap([], 200.0, 10.0)) == [""]


def column(**changes):
    return Column(LEFT, 100.0, **changes)


def rows(count):
    return [Row(((Run(f"row {number}"),),)) for number in range(count)]


def test_a_table_repeats_its_head_on_every_page():
    sheet = Sheet("letter")
    sheet.table([column(head="Product")], rows(200))
    assert len(sheet.pages) >= 3
    for page in sheet.pages:
        assert texts(page)[0].text == "Product"
    everything = [text.text for page in sheet.pages for text in texts(page)]
    assert [text for text in everything if text != "Product"] == [f"row {n}" for n in range(200)]


def test_nothing_is_put_below_the_lower_margin():
    sheet = Sheet("a4")
    sheet.table([column(head="Product")], rows(200))
    for page in sheet.pages:
        assert max(text.y for text in texts(page)) <= sheet.bottom


def test_a_row_that_does_not_fit_moves_to_the_next_page_whole():
    sheet = Sheet("letter")
    sheet.y = sheet.bottom - 3 * lead(BODY)
    sheet.table([column()], [Row(((Run("one\ntwo\nthree\nfour"),),))])
    assert not texts(sheet.pages[0])
    assert [text.text for text in texts(sheet.pages[1])] == ["one", "two", "three", "four"]


def test_a_row_longer_than_a_page_is_split_with_its_drawing_and_mark_in_the_first_part():
    sheet = Sheet("letter")
    drawing = Drawing(10.0, 10.0, "t", "d", ())
    long = (Run("\n".join(f"line {number}" for number in range(200))),)
    row = Row((long, drawing, (Run("short"),)), (Beside("breach", 7, LEFT - 3.0),))
    sheet.table([column(head="Note"), column(head="Strip"), column(head="Short")], [row])
    assert len(sheet.pages) == 3
    everything = [text.text for page in sheet.pages for text in texts(page)]
    assert [text for text in everything if text.startswith("line")] == [
        f"line {number}" for number in range(200)
    ]
    assert everything.count("short") == everything.count("7") == 1
    placed = [sum(isinstance(s, Placed) for s in page) for page in sheet.pages]
    assert placed == [1, 0, 0]
    assert everything.count("Note") == 3


def test_a_row_that_spans_stays_with_the_one_before_it():
    sheet = Sheet("letter")
    sheet.y = sheet.bottom - 1.5 * lead(BODY)
    below = Row(((Run("label text"),),), spans=True)
    sheet.table([column(), Column(LEFT + 110.0, 50.0)], [Row(((Run("A"),), (Run("B"),))), below])
    assert not texts(sheet.pages[0])
    first, _, spanning = texts(sheet.pages[1])
    assert (first.size, spanning.size) == (BODY, SMALL)


def test_a_rule_stands_between_groups_of_rows():
    sheet = Sheet("letter")
    below = Row(((Run("label text"),),), spans=True)
    sheet.table([column()], [*rows(1), below, *rows(1)], ruled=True)
    assert sum(isinstance(shape, Line) for shape in sheet.pages[0]) == 1


def test_decimal_points_stand_under_each_other():
    sheet = Sheet("letter")
    numbers = ["15.0", "1234.5", "0.25", "7", "not computed"]
    sheet.table([column(by_point=True)], [Row(((Run(number),),)) for number in numbers])
    points = [
        text.x + width(text.text.split(".")[0], BODY)
        for text in texts(sheet.pages[0])
        if text.text != "not computed"
    ]
    assert points == pytest.approx([points[0]] * 4)
    assert texts(sheet.pages[0])[-1].x == LEFT


def test_a_drawing_in_a_column_of_numbers_does_not_disturb_it():
    sheet = Sheet("letter")
    drawing = Drawing(10.0, 30.0, "t", "d", ())
    sheet.table(
        [column(by_point=True), column()],
        [Row((drawing, (Run("a"),))), Row(((Run("15.0"),), (Run("b"),)))],
    )
    a, number, b = texts(sheet.pages[0])
    assert number.y == b.y >= a.y + 30.0


def test_a_column_of_words_and_blanks_has_no_point_to_align():
    sheet = Sheet("letter")
    sheet.table([column(by_point=True)], [Row(((),)), Row(((Run("none"),),))])
    assert [text.x for text in texts(sheet.pages[0])] == [LEFT]


def test_marks_of_one_line_stand_under_each_other_and_carry_their_number():
    sheet = Sheet("letter")
    beside = (Beside("breach", 1, LEFT), Beside("missing", 2, LEFT), Beside("caution", 3, 300.0))
    sheet.table([column()], [Row(((Run("speed"),),), beside), *rows(1)])
    one, two, three, speed, after = texts(sheet.pages[0])
    assert (one.text, two.text, three.text) == ("1", "2", "3")
    assert two.y - one.y == pytest.approx(lead(BODY))
    assert three.y == one.y
    assert after.y - speed.y > 2 * lead(BODY)


def test_a_mark_without_a_kind_says_how_many_more_there_are():
    sheet = Sheet("letter")
    sheet.table([column()], [Row(((Run("speed"),),), (Beside("", 27, LEFT),))])
    assert texts(sheet.pages[0])[0].text == "+27"


def test_swatches_and_marks_are_drawn_in_the_line():
    sheet = Sheet("letter")
    runs = (Run("■", "swatch-class-M", drawn="swatch"), Run(f"{NBSP}Medium "))
    sheet.table([column()], [Row(((*runs, Run("■", "agrees", drawn="mark")),))])
    assert [type(shape) for shape in sheet.pages[0]] == [Rect, Text, Curve]
    assert sheet.pages[0][0].role == "swatch-class-M"


def test_a_letter_like_a_mark_in_an_entered_text_stays_a_letter():
    sheet = Sheet("letter")
    sheet.table([column()], [Row(((Run("■▲"),),))])
    assert [text.text for text in texts(sheet.pages[0])] == ["■▲"]


def test_a_section_begins_on_the_next_page_when_it_has_no_room():
    sheet = Sheet("letter")
    sheet.y = sheet.bottom - 30.0
    sheet.section("Check", keep=40.0)
    assert len(sheet.pages) == 2
    title = texts(sheet.pages[1])[0]
    assert (title.text, title.bold) == ("Check", True)
    assert title.y > TOP


def test_the_sheet_remembers_that_a_letter_was_replaced():
    sheet = Sheet("letter")
    sheet.table([column()], rows(1))
    assert not sheet.replaced
    sheet.table([column()], [Row(((Run("田"),),))])
    assert sheet.replaced


@pytest.mark.parametrize(
    ("kind", "shape"),
    [
        ("breach", Rect),
        ("mismatch", Polygon),
        ("caution", Polygon),
        ("missing", Circle),
        ("agrees", Curve),
        ("undecided", Text),
    ],
)
def test_each_mark_has_its_own_shape(kind, shape):
    (drawn,) = mark(kind, x=10.0, y=10.0, size=8.0)
    assert isinstance(drawn, shape)


def test_open_and_filled_marks_differ_without_colour():
    (mismatch,) = mark("mismatch", x=0.0, y=0.0, size=8.0)
    (caution,) = mark("caution", x=0.0, y=0.0, size=8.0)
    assert (mismatch.role, caution.role) == ("mismatch", "ground")
    assert len(mismatch.rings[0]) == 4
    assert len(caution.rings[0]) == 3


def test_an_unknown_mark_is_refused():
    with pytest.raises(ValueError, match='"fine" is not a kind of mark'):
        list(mark("fine", x=0.0, y=0.0, size=8.0))
