"""Tables as files for a spreadsheet program: CSV (RFC 4180) and XLSX, line by line.

A text that came from a person may look like a formula. In CSV it gets an apostrophe before it
(OWASP, "CSV Injection"); in XLSX a text is written as a text, which is never computed. Numbers go
as numbers and keep their digits.
"""

from __future__ import annotations

import csv
import io
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from itertools import islice
from typing import IO, Any, TypeVar

from xlsxwriter import Workbook

from logbook.tables.cells import guarded

Cell = str | int | Decimal | date | None
"""What stands in a cell; an empty one is None or ""."""

LINES_AT_ONCE = 200

T = TypeVar("T")


def in_parts(rows: Iterable[T], count: int) -> Iterator[list[T]]:
    """Yield the rows, `count` at a time."""
    left = iter(rows)
    while part := list(islice(left, count)):
        yield part


def csv_lines(head: Sequence[str], rows: Iterable[Sequence[Cell]]) -> Iterator[bytes]:
    """Yield a table as CSV, some lines at a time, in UTF-8 with the mark that programs look for."""
    out = io.StringIO()
    writer = csv.writer(out)
    out.write("\ufeff")
    writer.writerow(head)
    for some in in_parts(rows, LINES_AT_ONCE):
        writer.writerows([_csv(cell) for cell in row] for row in some)
        yield out.getvalue().encode()
        out.seek(0)
        out.truncate()
    yield out.getvalue().encode()


def _csv(cell: Cell) -> str:
    if isinstance(cell, str):
        return guarded(cell)
    if isinstance(cell, Decimal):
        return f"{cell:f}"
    return "" if cell is None else str(cell)


SHEET_LINES = 1_048_576
"""The lines of one sheet. Source: ECMA-376 part 1, 18.3.1.73, as Office Open XML programs keep it:
from memory."""

CELL_UNITS = 32_767
"""The characters of one cell, in units of UTF-16. Source: ECMA-376 part 1, 18.4.12 (ST_Xstring), as
Office Open XML programs keep it: from memory."""

CUT = " [cut here: a cell of a sheet holds no more. The whole text is in the CSV file.]"

EXACT_DIGITS = 15
"""Digits that a number of a sheet keeps: it is a double (IEEE 754)."""


def xlsx_file(head: Sequence[str], rows: Iterable[Sequence[Cell]], *, name: str) -> IO[bytes]:
    """Return a table as an XLSX workbook in a temporary file, at its start.

    A line is on the disk before the next is read, so memory does not grow with the table; one that
    is longer than a sheet goes on in the next.
    """
    out = tempfile.TemporaryFile()  # noqa: SIM115 the answer closes it
    options = {
        "constant_memory": True,
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
    }
    with Workbook(out, options) as book:
        sheet = _Sheets(book, head, name)
        for row in rows:
            sheet.put(row)
    out.seek(0)
    return out


def fitting(text: str) -> str:
    """Return a text as a cell holds it; one that is too long says where it was cut."""
    units = text.encode("utf-16-le", "surrogatepass")
    if len(units) <= 2 * CELL_UNITS:
        return text
    # Half a pair of units at the cut is no character.
    kept = units[: 2 * (CELL_UNITS - len(CUT))].decode("utf-16-le", "ignore")
    return f"{kept}{CUT}"


class _Sheets:
    """The sheets of a workbook, filled from the top."""

    def __init__(self, book: Any, head: Sequence[str], name: str) -> None:
        self.book, self.head, self.name = book, head, name
        self.bold = book.add_format({"bold": True})
        self.day = book.add_format({"num_format": "yyyy-mm-dd"})
        self.decimals: dict[int, Any] = {}
        self.count = 0
        self._begin()

    def _begin(self) -> None:
        self.count += 1
        self.sheet = self.book.add_worksheet(f"{self.name} {self.count}")
        self.sheet.freeze_panes(1, 0)
        for column, word in enumerate(self.head):
            self.sheet.write_string(0, column, word, self.bold)
            self.sheet.set_column(column, column, max(10, len(word) + 2))
        self.line = 1

    def put(self, row: Sequence[Cell]) -> None:
        """Write the next line."""
        if self.line == SHEET_LINES:
            self._begin()
        for column, cell in enumerate(row):
            self._cell(column, cell)
        self.line += 1

    def _cell(self, column: int, cell: Cell) -> None:
        if cell is None or cell == "":
            return
        if isinstance(cell, Decimal) and len(cell.as_tuple().digits) <= EXACT_DIGITS:
            self.sheet.write_number(self.line, column, float(cell), self._shown(cell))
        elif isinstance(cell, int):
            self.sheet.write_number(self.line, column, cell)
        elif isinstance(cell, date):
            self.sheet.write_datetime(self.line, column, cell, self.day)
        else:
            text = f"{cell:f}" if isinstance(cell, Decimal) else cell
            self.sheet.write_string(self.line, column, fitting(text))

    def _shown(self, number: Decimal) -> Any:
        """Return the format that shows as many decimals as were entered."""
        exponent = number.as_tuple().exponent
        places = max(0, -exponent) if isinstance(exponent, int) else 0
        if places not in self.decimals:
            form = f"0.{'0' * places}" if places else "0"
            self.decimals[places] = self.book.add_format({"num_format": form})
        return self.decimals[places]
