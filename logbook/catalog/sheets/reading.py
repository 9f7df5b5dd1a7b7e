"""Rows of text from a CSV or XLSX file, each with the number that the spreadsheet shows beside it.

An XLSX file is a zip of XML: it is looked through before the library opens it, because a few
kilobytes can ask for gigabytes (by packing, by XML entities, or by one cell in the last corner of
the sheet). A number becomes the shortest decimal of at most 15 digits, which is what a spreadsheet
keeps, so 0.1 stays 0.1. A formula counts by the value it showed when it was saved.
"""

from __future__ import annotations

import csv
import io
import re
import zipfile
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any
from xml.parsers import expat

from django.utils.translation import gettext as _

from logbook.base.cells import plain
from logbook.base.locale import count
from logbook.base.refusals import Refused

MOST_BYTES = 20_000_000
MOST_UNPACKED = 200_000_000
MOST_ROWS = 100_000
MOST_COLUMNS = 200
MOST_CELLS = 10_000_000
"""Of the rectangle that a workbook's sheet spans: a hundred columns of as many rows as are read."""

MOST_IN_A_CELL = 200_000
"""Characters: a boundary of some thousand corners as GeoJSON."""

EXAMPLE = "EXAMPLE:"
"""A row whose first cell begins so is the template's own and is passed over."""

_BOMS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
_SEPARATORS = ",;\t"


@dataclass(frozen=True, kw_only=True)
class Table:
    """The rows of a sheet.

    Attributes: head, the names in the first row; rows, number and cells of each that is not blank;
    notes, what the reader should know about how it was read; examples, rows passed over.
    """

    head: list[str]
    rows: list[tuple[int, list[str]]]
    notes: tuple[str, ...] = ()
    examples: int = 0


def is_xlsx(raw: bytes) -> bool:
    """Return whether the bytes are a zip, as every XLSX file is."""
    return raw.startswith(b"PK\x03\x04")


def table_of(raw: bytes) -> Table:
    """Return the rows of a CSV or an XLSX file.

    Raises: Refused, saying why it cannot be read and what can.
    """
    if len(raw) > MOST_BYTES:
        raise Refused(
            _("The file has %(bytes)s bytes; at most %(most)s are read at once. Split it.")
            % {"bytes": count(len(raw)), "most": count(MOST_BYTES)}
        )
    if raw.startswith(b"\xd0\xcf\x11\xe0"):
        raise Refused(
            _(
                "This is a spreadsheet of the old kind (.xls), or one with a password. Save it "
                "as .xlsx."
            )
        )
    notes: tuple[str, ...] = ()
    if is_xlsx(raw):
        lines, notes = _sheet(raw)
    else:
        lines, notes = _csv(raw)
    numbered = (
        (number, cells)
        for number, cells in lines
        if any(cell and not cell.isspace() for cell in cells)
    )
    _first, head = next(numbered, (0, []))
    if not head:
        raise Refused(_("The file is empty: its first row has to name the columns."))
    while head and not head[-1].strip():
        head.pop()
    rows, examples = [], 0
    for number, cells in numbered:
        if cells[0].lstrip().upper().startswith(EXAMPLE):
            examples += 1
            continue
        rows.append((number, cells))
    if len(rows) > MOST_ROWS:
        raise Refused(
            _("The file has %(rows)s rows; at most %(most)s are read at once. Split it.")
            % {"rows": count(len(rows)), "most": count(MOST_ROWS)}
        )
    return Table(head=head, rows=rows, notes=notes, examples=examples)


# --- CSV -----------------------------------------------------------------------------------------


def decoded(raw: bytes) -> tuple[str, str]:
    """Return the text of the bytes and the encoding they were read by.

    Raises: Refused if they are in none of the encodings that are read.
    """
    for mark, encoding in _BOMS:
        if raw.startswith(mark):
            tried = [encoding]
            break
    else:
        tried = ["utf-8", "cp1252"]
    for encoding in tried:
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" in text:
            break
        return text, encoding
    raise Refused(
        _("This is no text that can be read: save the sheet as CSV in UTF-8, or as .xlsx.")
    )


def separator_of(text: str) -> str:
    """Return which of comma, semicolon and tab stands most often in the first line."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    return max(_SEPARATORS, key=first.count)


def _csv(raw: bytes) -> tuple[Iterable[tuple[int, list[str]]], tuple[str, ...]]:
    text, encoding = decoded(raw)
    notes: tuple[str, ...] = ()
    if encoding == "cp1252":
        notes = (
            _(
                "The file is not UTF-8 and was read as Windows-1252: look whether letters with "
                "accents are right."
            ),
        )
    return _csv_lines(text), notes


def _csv_lines(text: str) -> Iterable[tuple[int, list[str]]]:
    csv.field_size_limit(MOST_IN_A_CELL)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator_of(text), strict=True)
    try:
        for number, cells in enumerate(reader, start=1):
            if len(cells) > MOST_COLUMNS:
                raise Refused(_too_wide(len(cells)))
            # Numbered as a spreadsheet shows them: a cell of several lines is one row.
            yield number, [plain(cell) for cell in cells]
    except csv.Error as bad:
        raise Refused(
            _("Line %(line)s: this is not CSV that can be read: %(why)s.")
            % {"line": reader.line_num, "why": bad}
        ) from None


def _too_wide(columns: int) -> str:
    return _("The file has %(columns)s columns; at most %(most)s are read.") % {
        "columns": columns,
        "most": MOST_COLUMNS,
    }


# --- XLSX ----------------------------------------------------------------------------------------

_CELL = re.compile(r"\s*([A-Za-z]*)([0-9]*)")
_CHUNK = 1 << 20
_OTHER_KINDS = {"xl/workbook.bin", "content.xml"}
"""What the library would open as another kind of spreadsheet, which is not looked through here."""


def _sheet(raw: bytes) -> tuple[Iterable[tuple[int, list[str]]], tuple[str, ...]]:
    from python_calamine import CalamineError, CalamineWorkbook

    _look_through(raw)
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(raw))
        names = book.sheet_names
        rows = book.get_sheet_by_index(0).to_python(skip_empty_area=False) if names else []
    except (CalamineError, OSError, ValueError) as bad:
        raise Refused(
            _("This .xlsx file is damaged and cannot be read (%(why)s). Save it anew.")
            % {"why": str(bad)[:200]}
        ) from None
    notes: tuple[str, ...] = ()
    if len(names) > 1:
        notes = (
            _("Only the first sheet, “%(name)s”, is read; the file has %(count)s.")
            % {"name": names[0], "count": len(names)},
        )
    return _texts(rows), notes


def _texts(rows: list[list[Any]]) -> Iterable[tuple[int, list[str]]]:
    for number, row in enumerate(rows, start=1):
        # A program that opens our CSV and saves it as a workbook keeps the apostrophe of `neutral`.
        yield number, [plain(value) if type(value) is str else text_of(value) for value in row]


def text_of(value: Any) -> str:
    """Return a cell's value as a person would have typed it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        return f"{Decimal(f'{value:.15g}'):f}"
    if isinstance(value, datetime):
        clock = "" if value.time() == time() else f"T{value:%H:%M:%S}"
        return f"{value:%Y-%m-%d}{clock}" if value.year >= 1000 else value.isoformat()
    if isinstance(value, (date, time)):
        return value.isoformat()
    if isinstance(value, timedelta):
        return str(value)
    return str(value)


def _look_through(raw: bytes) -> None:
    """Refuse what would cost too much or do more than hold cells, before it is opened."""
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as packed:
            names = [name.lstrip("/").lower() for name in packed.namelist()]
            if "xl/workbook.xml" not in names or _OTHER_KINDS.intersection(names):
                raise Refused(
                    _("This is a zip file, but no .xlsx spreadsheet. CSV and .xlsx are read.")
                )
            if any(name.endswith("vbaproject.bin") for name in names):
                raise Refused(_("The spreadsheet holds macros. Save it as .xlsx without them."))
            total = 0
            for entry in packed.infolist():
                total += entry.file_size
                if total > MOST_UNPACKED:
                    raise Refused(_too_large())
            for entry in packed.infolist():
                if entry.filename.lower().endswith((".xml", ".rels")):
                    _look_through_part(packed, entry)
    except (
        *(zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError),
        *(expat.ExpatError, ValueError),
    ):
        raise Refused(
            _("This .xlsx file is damaged, or has a password, and cannot be read. Save it anew.")
        ) from None


def _look_through_part(packed: zipfile.ZipFile, entry: zipfile.ZipInfo) -> None:
    """Refuse a part that reaches too far, read as the library reads it: element by element.

    A search for the text of a cell's place is not enough: it may be in small letters, in another
    encoding, or not be written at all.
    """
    row = column = last_row = widest = 0
    of_workbook = entry.filename.lower().endswith("workbook.xml.rels")

    def begins(name: str, attributes: dict[str, str]) -> None:
        nonlocal row, column, last_row, widest
        kind, place = name.rpartition(":")[2], attributes.get("r", "")
        if kind == "row":
            row, column = int(place or row + 1), 0
        elif kind == "c":
            letters, digits = _CELL.match(place).groups()  # type: ignore[union-attr]
            column = _number_of(letters) if letters else column + 1
            row = int(digits or row)
            widest = max(widest, column)
        elif of_workbook and not attributes.get("Target", ".xml").lower().endswith(".xml"):
            raise zipfile.BadZipFile("a sheet under a name that is not looked through")
        last_row = max(last_row, row)

    def declares(*_names: Any) -> None:
        raise Refused(_("The spreadsheet declares XML entities, which are not read."))

    parser = expat.ParserCreate()
    parser.StartElementHandler, parser.StartDoctypeDeclHandler = begins, declares
    # zipfile gives no more bytes than the entry says it has, and checks their sum.
    with packed.open(entry) as part:
        while chunk := part.read(_CHUNK):
            parser.Parse(chunk, False)
    parser.Parse(b"", True)
    if widest > MOST_COLUMNS:
        raise Refused(_too_wide(widest))
    # Blank rows between count here: the library keeps a place for each cell of the rectangle.
    if last_row > 2 * MOST_ROWS:
        raise Refused(
            _("The sheet reaches down to row %(row)s; at most %(most)s rows are read.")
            % {"row": count(last_row), "most": count(MOST_ROWS)}
        )
    if last_row * widest > MOST_CELLS:
        raise Refused(
            _("The sheet spans %(cells)s cells; at most %(most)s are read. Split it.")
            % {"cells": count(last_row * widest), "most": count(MOST_CELLS)}
        )


def _number_of(column: str) -> int:
    number = 0
    for letter in column[:4].upper():
        number = number * 26 + ord(letter) - 64
    return number


def _too_large() -> str:
    return _("Unpacked, the file has more than %(most)s bytes. Split it.") % {
        "most": count(MOST_UNPACKED)
    }
