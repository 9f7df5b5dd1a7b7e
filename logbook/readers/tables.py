"""Rows of text from a CSV or XLSX file, each with the number that the spreadsheet shows beside it.

An XLSX file is a zip of XML: it is looked through before the library opens it, because a few
kilobytes can ask for gigabytes (by packing, by XML entities, by one cell in the last corner of the
sheet, or by one text that a thousand cells show). The library then reads what was looked through
and nothing else. A number becomes the shortest decimal of at most 15 digits, which is what a
spreadsheet keeps, so 0.1 stays 0.1. A formula counts by the value it showed when it was saved.
"""

from __future__ import annotations

import codecs
import contextlib
import csv
import io
import json
import re
import zipfile
import zlib
from array import array
from collections.abc import Iterable, Iterator
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any
from xml.parsers import expat

from python_calamine import CalamineError, CalamineWorkbook

from logbook.readers import MAX_BYTES, MAX_IN_A_CELL, ZIP, Unreadable, markup
from logbook.readers import gettext_noop as _

MAX_UNPACKED = 100_000_000
MAX_PARTS = 1_000
MAX_ROWS = 100_000
MAX_COLUMNS = 200
MAX_PLACES = 2_000_000
"""Of the rectangle that a sheet spans."""

MAX_CELLS = 800_000
"""Cells with something in them."""

MAX_TAGS = 4_000_000
"""Of the XML in a workbook: four for each cell, and four for a text that is kept apart from it."""

MAX_TEXT = 20_000_000
"""Bytes in UTF-8 of what all cells show: a text that many cells share counts for each of them."""

MAX_OBJECTS, MAX_LISTS, MAX_VALUES = 100_000, 500_000, 1_500_000
"""In JSON."""

EXAMPLE = "EXAMPLE:"
"""A row whose first cell begins so is the template's own and is passed over."""

BLANK = b"\xef\xbb\xbf \t\r\n"
"""What may stand before the first character of a text."""

_BOMS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
_SEPARATORS = ",;\t"
# No module can be imported any more when a file is read. The last is that of names in a zip.
for _encoding in ("utf-8-sig", "utf-16", "cp1252", "cp437"):
    codecs.lookup(_encoding)


def read_table(raw: bytes) -> Iterator[Any]:
    """Yield {"head", "notes"}, then number and cells of each row, last {"examples"}, a count.

    Rows that are blank are passed over, and so are examples. What holds shapes yields nothing.

    Raises: Unreadable, saying why it cannot be read and what can.
    """
    check_size(raw)
    if not _holds_shapes(raw):
        yield from _table(raw)


def _table(raw: bytes) -> Iterator[Any]:
    if raw.startswith(b"\xd0\xcf\x11\xe0"):
        raise Unreadable(
            _(
                "This is a spreadsheet of the old kind (.xls), or one with a password. Save it "
                "as .xlsx."
            )
        )
    lines, notes = _sheet(raw) if raw.startswith(ZIP) else _csv(raw)
    numbered = (
        (number, cells)
        for number, cells in lines
        if any(cell and not cell.isspace() for cell in cells)
    )
    _first, head = next(numbered, (0, []))
    while head and not head[-1].strip():
        head.pop()
    if not head:
        raise Unreadable(_("The file is empty: its first row has to name the columns."))
    yield {"head": head, "notes": notes}
    rows = examples = 0
    for number, cells in numbered:
        if cells[0].lstrip().upper().startswith(EXAMPLE):
            examples += 1
            continue
        rows += 1
        if rows <= MAX_ROWS:
            yield number, cells
    if rows > MAX_ROWS:
        raise Unreadable(
            _("The file has %(rows)s rows; at most %(most)s are read at once. Split it."),
            rows=rows,
            most=MAX_ROWS,
        )
    yield {"examples": examples}


def read_records(raw: bytes) -> Iterator[Any]:
    """Yield the rows of a sheet of records as `read_table` does, nothing for JSON or our own CSV.

    Those are read strictly afterwards; here it is made sure that they can be held and read in time.

    Raises: Unreadable as `read_table`.
    """
    check_size(raw)
    if raw.lstrip(BLANK).startswith((b"{", b"[")):
        with contextlib.suppress(ValueError, RecursionError):  # which the strict reader explains
            json_value(raw)
        return
    if not raw.startswith(ZIP):
        encoding = _encoding_of(raw)
        if encoding in ("utf-8", "utf-8-sig") and _separator_of(raw, encoding) == ",":
            for _line in _csv_lines(raw, encoding):
                pass
            return
    yield from _table(raw)


def _holds_shapes(raw: bytes) -> bool:
    if not raw.startswith(ZIP):
        return raw.lstrip(BLANK).startswith((b"{", b"<"))
    try:
        check_zip(raw, most_unpacked=MAX_UNPACKED)
        with zipfile.ZipFile(io.BytesIO(raw)) as packed:
            return any(name.lower().endswith((".shp", ".kml")) for name in packed.namelist())
    except (zipfile.BadZipFile, OSError, ValueError):
        return False


def check_size(raw: bytes) -> None:
    """Refuse a file of more bytes than are read."""
    if len(raw) > MAX_BYTES:
        raise Unreadable(
            _("The file has %(bytes)s bytes; at most %(most)s are read at once. Split it."),
            bytes=len(raw),
            most=MAX_BYTES,
        )


def json_value(raw: bytes) -> Any:
    """Return the value of a JSON text.

    Raises: Unreadable if it holds more values than can be kept; each takes up to some hundred
    bytes. ValueError or RecursionError if it is no JSON.
    """
    for mark, most in ((b"{", MAX_OBJECTS), (b"[", MAX_LISTS), (b",", MAX_VALUES)):
        if raw.count(mark) > most:
            raise Unreadable(_("The file holds more values than are read at once. Split it."))
    return json.loads(raw.decode("utf-8-sig"))


# --- CSV -----------------------------------------------------------------------------------------


def _encoding_of(raw: bytes) -> str:
    """Return the encoding of the bytes.

    Raises: Unreadable if they are in none of the encodings that are read.
    """
    tried = [encoding for mark, encoding in _BOMS if raw.startswith(mark)]
    for encoding in tried or ["utf-8", "cp1252"]:
        try:
            if any("\0" in text for text in _decoded(raw, encoding)):
                break
        except UnicodeDecodeError:
            continue
        return encoding
    raise Unreadable(
        _("This is no text that can be read: save the sheet as CSV in UTF-8, or as .xlsx.")
    )


def _decoded(raw: bytes, encoding: str) -> Iterable[str]:
    """Return the text piece by piece: whole, one rare letter makes it four times as large."""
    text = io.TextIOWrapper(io.BytesIO(raw), encoding, newline="")
    return iter(lambda: text.read(markup.CHUNK), "")


def _separator_of(raw: bytes, encoding: str) -> str:
    """Return which of comma, semicolon and tab stands most often in the first line."""
    begin = next(iter(_decoded(raw, encoding)), "")
    first = next((line for line in begin.splitlines() if line.strip()), "")
    return max(_SEPARATORS, key=first.count)


def _csv(raw: bytes) -> tuple[Iterable[tuple[int, list[str]]], list[Any]]:
    encoding = _encoding_of(raw)
    notes: list[Any] = []
    if encoding == "cp1252":
        note = _(
            "The file is not UTF-8 and was read as Windows-1252: look whether letters with accents "
            "are right."
        )
        notes = [(note, {})]
    return _csv_lines(raw, encoding), notes


def _csv_lines(raw: bytes, encoding: str) -> Iterable[tuple[int, list[str]]]:
    csv.field_size_limit(MAX_IN_A_CELL)
    text = io.TextIOWrapper(io.BytesIO(raw), encoding, newline="")
    reader = csv.reader(text, delimiter=_separator_of(raw, encoding), strict=True)
    places = filled = 0
    try:
        for number, cells in enumerate(reader, start=1):
            if len(cells) > MAX_COLUMNS:
                raise too_wide(len(cells))
            places += len(cells)
            filled += len(cells) - cells.count("")
            _check_places(places)
            _check_cells(filled)
            # Numbered as a spreadsheet shows them: a cell of several lines is one row.
            yield number, cells
    except csv.Error as bad:
        raise Unreadable(
            _("Line %(line)s: this is not CSV that can be read: %(why)s."),
            line=reader.line_num,
            why=str(bad),
        ) from None


def too_wide(columns: int) -> Unreadable:
    return Unreadable(
        _("The file has %(columns)s columns; at most %(most)s are read."),
        columns=columns,
        most=MAX_COLUMNS,
    )


def _check_cells(filled: int) -> None:
    if filled > MAX_CELLS:
        raise Unreadable(
            _("The file has more than %(most)s cells with something in them. Split it."),
            most=MAX_CELLS,
        )


def _check_places(places: int) -> None:
    if places > MAX_PLACES:
        raise Unreadable(
            _("The sheet spans %(cells)s cells; at most %(most)s are read. Split it."),
            cells=places,
            most=MAX_PLACES,
        )


# --- XLSX ----------------------------------------------------------------------------------------

_CELL = re.compile(r"\s*([A-Za-z]*)([0-9]*)")
_MOST_DIGITS = 20
_MOST_BETWEEN = 100
"""Blanks between two tags, which are for the eye."""

_OTHER_KINDS = {"xl/workbook.bin", "content.xml"}
"""What the library would open as another kind of spreadsheet, which is not looked through here."""


def _sheet(raw: bytes) -> tuple[Iterable[tuple[int, list[str]]], list[Any]]:
    looked_through = _looked_through(raw)
    try:
        book = CalamineWorkbook.from_filelike(looked_through)
        names = book.sheet_names
        rows = book.get_sheet_by_index(0).iter_rows() if names else iter(())
    except (CalamineError, OSError, ValueError) as bad:
        raise Unreadable(
            _("This .xlsx file is damaged and cannot be read (%(why)s). Save it anew."),
            why=str(bad)[:200],
        ) from None
    notes: list[Any] = []
    if len(names) > 1:
        note = _("Only the first sheet, “%(name)s”, is read; the file has %(count)s.")
        notes = [(note, {"name": names[0], "count": len(names)})]
    texts = ((number, [text_of(value) for value in row]) for number, row in enumerate(rows, 1))
    return texts, notes


def text_of(value: Any) -> str:
    """Return a cell's value as a person would have typed it."""
    if isinstance(value, str):
        return value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        text = f"{value:.15g}"
        return f"{Decimal(text):f}" if "e" in text else text
    if isinstance(value, datetime):
        return value.isoformat(timespec="seconds").removesuffix("T00:00:00")
    if isinstance(value, (date, time)):
        return value.isoformat()
    if isinstance(value, timedelta):
        return str(value)
    return str(value)


def _looked_through(raw: bytes) -> io.BytesIO:
    """Return the workbook packed anew, of those parts alone that were looked through.

    Two programs may read one zip differently, so the library is not given the file itself.

    Raises: Unreadable where it would cost too much or do more than hold cells.
    """
    fresh = io.BytesIO()
    found = _Found()
    try:
        check_zip(raw, most_unpacked=MAX_UNPACKED)
        with (
            zipfile.ZipFile(io.BytesIO(raw)) as packed,
            zipfile.ZipFile(fresh, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as anew,
        ):
            names = [name.lstrip("/").lower() for name in packed.namelist()]
            if "xl/workbook.xml" not in names or _OTHER_KINDS.intersection(names):
                raise Unreadable(
                    _("This is a zip file, but no .xlsx spreadsheet. CSV and .xlsx are read.")
                )
            if any(name.endswith("vbaproject.bin") for name in names):
                raise Unreadable(_("The spreadsheet holds macros. Save it as .xlsx without them."))
            if len(set(names)) < len(names):
                raise zipfile.BadZipFile("a part given twice")
            for entry in packed.infolist():
                if entry.filename.lower().endswith((".xml", ".rels")):
                    # zipfile gives no more bytes than the entry says it has, and checks their sum.
                    with packed.open(entry) as part, anew.open(entry.filename, "w") as copy:
                        copy.writelines(found.pieces(part, name=entry.filename))
    except (
        *(zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError),
        *(expat.ExpatError, ValueError),
    ):
        raise Unreadable(
            _("This .xlsx file is damaged, or has a password, and cannot be read. Save it anew.")
        ) from None
    found.check_text()
    fresh.seek(0)
    return fresh


def check_zip(raw: bytes, *, most_unpacked: int) -> None:
    """Refuse a zip of too many parts, or of more bytes in all than may be unpacked."""
    # Counted before the list is read, which takes a kilobyte for each.
    parts = raw.count(b"PK\x01\x02")
    if parts > MAX_PARTS:
        raise Unreadable(
            _("The zip holds %(parts)s files; at most %(most)s are read."),
            parts=parts,
            most=MAX_PARTS,
        )
    with zipfile.ZipFile(io.BytesIO(raw)) as packed:
        if sum(entry.file_size for entry in packed.infolist()) > most_unpacked:
            raise Unreadable(
                _("Unpacked, the file has more than %(most)s bytes. Split it."),
                most=most_unpacked,
            )


class _Found:
    """What the parts of a workbook come to, read as the library reads them: element by element.

    A search for the text of a cell's place is not enough: it may be in small letters, in another
    encoding, or not be written at all.
    """

    def __init__(self) -> None:
        self.tags = self.cells = self.text = 0
        self.lengths, self.uses = array("Q"), array("Q")  # of shared texts, by their number

    def pieces(self, part: Any, *, name: str) -> Iterator[bytes]:
        """Yield the bytes of a part as it is read.

        Raises: Unreadable if the part reaches too far.
        """
        of_workbook = name.lower().endswith("workbook.xml.rels")
        row = column = last_row = widest = shared_texts = length = 0
        is_shared = in_text = in_number = False
        number = ""

        def begins(name: str, attributes: dict[str, str]) -> None:
            nonlocal row, column, last_row, widest, is_shared, in_text, in_number, length, number
            if in_number:
                raise ValueError(name)
            kind = markup.local(name) if ":" in name else name
            if kind == "c":
                self.cells += 1
                column += 1
                if "r" in attributes:
                    letters, digits = _CELL.match(attributes["r"]).groups()  # type: ignore[union-attr]
                    column = _number_of(letters) if letters else column
                    row = int(digits or row)
                widest, last_row = max(widest, column), max(last_row, row)
                is_shared = attributes.get("t") == "s"
            elif kind == "v":
                in_number, number = is_shared, ""
            elif kind == "row":
                row, column = int(attributes.get("r") or row + 1), 0
                last_row = max(last_row, row)
            elif kind == "si" and not in_text:
                in_text, length = True, 0
            elif of_workbook and not attributes.get("Target", ".xml").lower().endswith(".xml"):
                raise zipfile.BadZipFile("a sheet under a name that is not looked through")

        def holds(text: str) -> None:
            nonlocal length, number
            if in_number:
                number += text
                if len(number) > _MOST_DIGITS:
                    raise ValueError(number)
                return
            size = len(text) if text.isascii() else len(text.encode())
            if in_text:
                length += size
            elif size > _MOST_BETWEEN or not text.isspace():
                self.text += size

        def ends(name: str) -> None:
            nonlocal in_text, in_number, shared_texts
            if in_number:
                at = int(number)
                _at_least(self.uses, at)
                self.uses[at] += 1
                in_number = False
            elif in_text and markup.local(name) == "si":
                in_text = False
                _at_least(self.lengths, shared_texts)
                _at_least(self.uses, shared_texts)
                self.lengths[shared_texts] = max(self.lengths[shared_texts], length)
                shared_texts += 1

        parser = markup.parser()
        parser.StartElementHandler, parser.EndElementHandler = begins, ends
        parser.CharacterDataHandler = holds
        for piece in markup.parse(parser, part):
            self.tags += piece.count(b"<")
            if self.tags > MAX_TAGS:
                raise Unreadable(
                    _("The spreadsheet is too large to be read. Save it as CSV, or split it.")
                )
            yield piece
        if widest > MAX_COLUMNS:
            raise too_wide(widest)
        # Blank rows between count here: the library keeps a place for each cell of the rectangle.
        if last_row > 2 * MAX_ROWS:
            raise Unreadable(
                _("The sheet reaches down to row %(row)s; at most %(most)s rows are read."),
                row=last_row,
                most=MAX_ROWS,
            )
        _check_places(last_row * widest)
        _check_cells(self.cells)

    def check_text(self) -> None:
        """Refuse cells that show more text than can be held, each shared text counted by its uses.

        It may be read after the cells that show it, so only now.
        """
        shown = self.text + sum(
            length * max(1, uses) for length, uses in zip(self.lengths, self.uses, strict=False)
        )
        if shown > MAX_TEXT:
            raise Unreadable(
                _("The cells show %(bytes)s bytes of text; at most %(most)s are read. Split it."),
                bytes=shown,
                most=MAX_TEXT,
            )


def _at_least(counts: array[int], place: int) -> None:
    """Lengthen the array so that it has the place.

    Raises: ValueError if no sheet that is read has so many texts.
    """
    if not 0 <= place < 2 * MAX_CELLS:
        raise ValueError(place)
    if place >= len(counts):
        counts.frombytes(bytes(counts.itemsize * (place + 1 - len(counts))))


def _number_of(column: str) -> int:
    number = 0
    for letter in column[:4].upper():
        number = number * 26 + ord(letter) - 64
    return number
