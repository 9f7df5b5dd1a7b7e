"""The paper's type: one embedded family, measured, and what becomes of letters it lacks."""

from __future__ import annotations

import unicodedata
from functools import cache, lru_cache

import font_source_sans_pro
from reportlab import rl_config
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

REGULAR, BOLD = "Paper", "PaperBold"
"""Source Sans Pro, regular and semibold; the names are those of this process's registry."""

LETTERS_NOTE = (
    "A letter that the print type lacks is shown by its Unicode number, as [U+4E2D]; "
    "the seal holds the letter itself."
)


@cache
def register() -> None:
    """Register the family with reportlab, once per process: reading it takes tens of ms."""
    # Binary streams: base 85 in plain Python would cost a tenth of a record's time.
    rl_config.useA85 = 0
    files = font_source_sans_pro.font_files_ttf
    pdfmetrics.registerFont(TTFont(REGULAR, files["SourceSansPro"]))
    pdfmetrics.registerFont(TTFont(BOLD, files["SourceSansProSemibold"]))


@lru_cache(maxsize=16384)
def width(text: str, size: float, bold: bool = False) -> float:
    """Return the width of a text in points."""
    register()
    return float(pdfmetrics.stringWidth(text, BOLD if bold else REGULAR, size))


def printable(text: str) -> str:
    """Return the text as it can be printed, nothing dropped.

    Letters are composed (NFC), every kind of space is a space, and what the family has no glyph for
    stands as its Unicode number.
    """
    glyphs = _glyphs()
    text = unicodedata.normalize("NFC", text)
    if all(ord(letter) in glyphs for letter in text):
        return text
    return "".join(_letter(letter, glyphs) for letter in text)


def is_replaced(text: str) -> bool:
    """Return whether a text has letters that `printable` shows by number."""
    return "[U+" in printable(text) and "[U+" not in text


def _letter(letter: str, glyphs: frozenset[int]) -> str:
    if ord(letter) in glyphs:
        return letter
    if letter.isspace():
        return " "
    return f"[U+{ord(letter):04X}]"


@cache
def _glyphs() -> frozenset[int]:
    """Return the code points that both weights show: no control or format character is one."""
    register()
    regular, bold = (set(pdfmetrics.getFont(name).face.charToGlyph) for name in (REGULAR, BOLD))
    return frozenset(
        code for code in regular & bold if unicodedata.category(chr(code)) not in ("Cc", "Cf")
    )
