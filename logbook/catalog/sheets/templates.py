"""A sheet to fill in: the head, and one row that is marked as an example and passed over."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

import xlsxwriter

from logbook.tables.cells import guarded


def as_csv(rows: Sequence[Sequence[str]]) -> bytes:
    """Return the rows as CSV in UTF-8, with the mark by which spreadsheets know it."""
    out = io.StringIO(newline="")
    csv.writer(out).writerows([[guarded(cell) for cell in row] for row in rows])
    return out.getvalue().encode("utf-8-sig")


def as_xlsx(rows: Sequence[Sequence[str]]) -> bytes:
    """Return the rows as XLSX; every column is text, so that leading zeros stay."""
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True})
    sheet = book.add_worksheet()
    text, head = book.add_format({"num_format": "@"}), book.add_format({"bold": True})
    widest = max(map(len, rows))
    sheet.set_column(0, widest - 1, 18, text)
    sheet.freeze_panes(1, 0)
    for number, row in enumerate(rows):
        for place, cell in enumerate(row):
            sheet.write_string(number, place, cell, text if number else head)
    book.close()
    return out.getvalue()
