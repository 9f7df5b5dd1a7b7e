"""XML element by element, by a parser that takes no declarations."""

from __future__ import annotations

from collections.abc import Iterator
from typing import IO, Any, NoReturn
from xml.parsers import expat

from logbook.readers import Unreadable
from logbook.readers import gettext_noop as _

CHUNK = 1 << 16
MAX_IN_A_TAG = 1_000_000
"""Bytes of a tag or a comment: a parser keeps all of it until its end."""


def parser(encoding: str | None = None) -> expat.XMLParserType:
    """Return a parser that gives the text of an element whole and refuses entities."""
    made = expat.ParserCreate(encoding)
    made.buffer_text = True
    made.StartDoctypeDeclHandler = _declares
    return made


def parse(made: expat.XMLParserType, part: IO[bytes]) -> Iterator[bytes]:
    """Yield the bytes of a part piece by piece, each after it was parsed.

    Raises: Unreadable; ExpatError if it is not well-formed.
    """
    fed = 0
    while chunk := part.read(CHUNK):
        made.Parse(chunk, False)
        fed += len(chunk)
        if fed - made.CurrentByteIndex > MAX_IN_A_TAG:
            raise Unreadable(_("A tag of the XML in this file is too long to be read."))
        yield chunk
    made.Parse(b"", True)


def local(name: str) -> str:
    """Return the name of an element without its prefix."""
    return name.rpartition(":")[2]


def _declares(*_what: Any) -> NoReturn:
    raise Unreadable(_("The file declares XML entities, which are not read."))
