"""Reading paper back: the text of its pages, flattened."""

from __future__ import annotations

import io
import re

from pypdf import PdfReader


def flat(text: str) -> str:
    """Return a text with every run of white space as one space, and none before punctuation.

    A change of weight or ink begins a new piece of text, which reads back with a space before it.
    """
    return re.sub(r" (?=[,;:°])", "", re.sub(r"\s+", " ", text))


class Page(str):
    """The text of paper; what is looked for in it is flattened in the same way."""

    def __contains__(self, part: object) -> bool:
        return super().__contains__(flat(str(part)))


def read(data: bytes) -> list[Page]:
    """Return the text of each page of a PDF."""
    reader = PdfReader(io.BytesIO(data))
    return [Page(flat(page.extract_text())) for page in reader.pages]


def whole(data: bytes) -> Page:
    """Return the text of all pages of a PDF."""
    return Page(" ".join(read(data)))


def has(text: str, *parts: str) -> None:
    """Check that every part stands in the text."""
    for part in parts:
        assert part in text
