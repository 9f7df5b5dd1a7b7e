"""Readers of files from strangers. Each runs in a process of its own, without Django.

`process` is that process, `logbook.uploads` starts it. A reader takes the bytes of a file and
yields what stands in it as JSON values; what it will not read it refuses with `Unreadable`.
"""

from __future__ import annotations

from typing import Any

MAX_BYTES = 20_000_000
MAX_PICTURE_BYTES = 15_000_000
MAX_SHAPES = 5_000
MAX_IN_A_CELL = 200_000
"""Characters: a boundary of some thousand corners as GeoJSON."""

ZIP = b"PK\x03\x04"
"""What a zip begins with, and so every XLSX file."""


class Unreadable(Exception):
    """Why a file is not read: a sentence to be translated, and the values that stand in it."""

    def __init__(self, sentence: str, **values: str | int) -> None:
        self.sentence, self.values = sentence, values
        super().__init__(sentence % values)

    def as_json(self) -> dict[str, Any]:
        """Return it as the parent process reads it."""
        return {"unreadable": self.sentence, "values": self.values}


def gettext_noop(sentence: str) -> str:
    """Return the sentence itself, marked for translation: the parent process translates it."""
    return sentence
