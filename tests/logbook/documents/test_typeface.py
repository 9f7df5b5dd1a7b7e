"""The paper's type: what it prints, and what becomes of letters that it lacks."""

from __future__ import annotations

import pytest
from reportlab.pdfbase import pdfmetrics

from logbook.documents.typeface import BOLD, REGULAR, is_replaced, printable, register, width


@pytest.mark.parametrize(
    "text",
    [
        "Józef Żółć, Łódź",
        "Điện Biên Phủ, ậệ",
        "Иван Жуков, їєґ",
        "Ωμέγα, λόγος",
        "½ ° ± × − – — … ≥ ≤ µ ’ “ ”",
    ],
)
def test_the_family_has_the_letters_of_many_languages(text):
    assert printable(text) == text
    assert not is_replaced(text)


def test_a_letter_it_lacks_stands_as_its_number():
    assert printable("田 A") == "[U+7530] A"
    assert printable("😀") == "[U+1F600]"
    assert is_replaced("田")


def test_a_text_that_holds_such_a_number_itself_is_not_taken_for_replaced():
    assert not is_replaced("[U+7530]")


def test_letters_are_composed_first():
    assert printable("e\u0301") == "é"


def test_a_space_of_any_kind_is_a_space():
    assert printable("a\u2009b\tc") == "a b c"


@pytest.mark.parametrize("control", ["\x00", "\x07", "\x7f", "\x9b", "\u202e", "\ufeff"])
def test_controls_are_shown_and_not_obeyed(control):
    assert printable(f"a{control}b") == f"a[U+{ord(control):04X}]b"


def test_the_digits_are_tabular():
    assert len({width(digit, 10.0, bold) for digit in "0123456789" for bold in (False,)}) == 1
    assert len({width(digit, 10.0, True) for digit in "0123456789"}) == 1


def test_the_bold_is_wider_and_the_width_grows_with_the_size():
    assert width("Field", 10.0, True) > width("Field", 10.0)
    assert width("Field", 20.0) == pytest.approx(2 * width("Field", 10.0))


def test_the_fonts_are_registered_once():
    register()
    before = pdfmetrics.getFont(REGULAR), pdfmetrics.getFont(BOLD)
    register()
    assert (pdfmetrics.getFont(REGULAR), pdfmetrics.getFont(BOLD)) == before
