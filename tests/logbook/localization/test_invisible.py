"""Which marks of a text are shown by their number, and which stay because a script needs them."""

from __future__ import annotations

import unicodedata

import pytest

from logbook.localization.invisible import made_visible, may_hold_invisible


@pytest.mark.parametrize(
    "mark",
    [
        # The nine bidirectional controls of CVE-2021-42574 (Boucher and Anderson, 2021).
        *"\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069",
        # Without width, or never drawn: Unicode, Default_Ignorable_Code_Point (from memory).
        *"\xad\u034f\u061c\u115f\u180e\u200b\u200c\u200d\u200e\u200f\u2060\u2064\u3164\ufe0f\ufeff",
        *"\uffa0\U000e0041\U000e0100",
    ],
)
def test_in_a_latin_name_a_mark_stands_as_its_number(mark: str) -> None:
    assert made_visible(f"El{mark}m") == f"El[U+{ord(mark):04X}]m"
    assert made_visible(f"{mark}Elm") == f"[U+{ord(mark):04X}]Elm"
    assert may_hold_invisible(f"Łódź {mark}Elm".encode())


def test_no_control_of_format_is_left_out() -> None:
    """Those of the category Cf that are left are drawn: the signs of numbers and verses."""
    left = [
        chr(code)
        for code in range(0x110000)
        if unicodedata.category(chr(code)) == "Cf" and made_visible(chr(code)) == chr(code)
    ]
    drawn = ("ARABIC", "SYRIAC ABBREVIATION", "KAITHI NUMBER", "EGYPTIAN HIEROGLYPH")
    assert [one for one in left if not unicodedata.name(one).startswith(drawn)] == []


@pytest.mark.parametrize(
    "text",
    [
        "Elm Farm, Łódź, Đồng, Ωμέγα, Жуков, naïve cafe\u0301",
        "שדה צפוני",
        "الحقل الشمالي",
        "می\u200cخواهم",  # Persian, "I want": a joiner that keeps letters apart (RFC 5892, A.1)
        "क्\u200dष",  # Devanagari: a joiner after a virama (RFC 5892, A.2)
        "ශ්\u200dරී",  # Sinhala, "Sri"
        "র\u200d্যাব",  # Bengali, a joiner before the virama (from memory)
        "ខ្ញុំ\u200bទៅ",  # Khmer: a space of no width between words
        "שדה\u200f (3)",  # Hebrew: the mark keeps the bracket on its side
        "葛\U000e0100城",  # Japanese: a variant of a sign in a place's name
        "👩\u200d🌾 ❤\ufe0f\u200d🔥 ©\ufe0f",  # emoji, Unicode UTS #51
        "a\u00a0b\u2009c\td\u2028e",  # spaces and ends of lines are seen as such
    ],
)
def test_what_a_script_needs_stays(text: str) -> None:
    assert made_visible(text) == text


def test_only_right_after_such_a_character() -> None:
    assert made_visible("می\u200c\u200cخواهم") == "می\u200c[U+200C]خواهم"
    assert made_visible("שדה Elm\u200f") == "שדה Elm[U+200F]"
    # What turns letters around has no place in any name.
    assert made_visible("שדה\u202eElm") == "שדה[U+202E]Elm"


def test_plain_pages_are_not_looked_through() -> None:
    assert not may_hold_invisible("Łódź – Długa, ½ acre … 田".encode())
