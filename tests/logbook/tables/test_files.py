"""Tables as CSV and XLSX: what a person typed is never computed, a number keeps its digits."""

from __future__ import annotations

import csv
import io
import zipfile
from datetime import date
from decimal import Decimal
from typing import Any
from xml.etree import ElementTree

import pytest

from logbook.tables import files as tables

NS = {"m": "http://schemas.openxmlformats.org/spreadsheetml/2006/main"}


def csv_of(*rows: Any) -> list[list[str]]:
    content = b"".join(tables.csv_lines(("one", "two"), rows)).decode("utf-8-sig")
    return list(csv.reader(io.StringIO(content, newline="")))


# OWASP, "CSV Injection": cells that begin with one of these.
@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_a_text_that_begins_a_formula_gets_an_apostrophe_in_csv(start: str) -> None:
    assert csv_of((f"{start}1+1", "x"))[1] == [f"'{start}1+1", "x"]


def test_a_negative_number_is_left_a_number_in_csv() -> None:
    assert csv_of((Decimal("-5.50"), -3))[1] == ["-5.50", "-3"]


def test_a_number_keeps_every_digit_in_csv() -> None:
    assert csv_of((Decimal("0.000000000001"), Decimal("15.0")))[1] == ["0.000000000001", "15.0"]


def test_a_blank_is_blank_and_a_day_is_written_as_iso_8601_says() -> None:
    assert csv_of((None, date(2026, 6, 12)))[1] == ["", "2026-06-12"]


def sheets(content: bytes) -> list[list[Any]]:
    """Return the rows of the sheets: each cell its type, value and whether it is a formula."""
    book = zipfile.ZipFile(io.BytesIO(content))
    names = sorted(n for n in book.namelist() if n.startswith("xl/worksheets/sheet"))
    found = []
    for name in names:
        for row in ElementTree.fromstring(book.read(name)).iterfind(".//m:row", NS):
            found.append(
                [
                    (
                        cell.get("t", "n"),
                        "".join(cell.itertext()),
                        cell.find("m:f", NS) is not None,
                    )
                    for cell in row
                ]
            )
    return found


def xlsx_of(*rows: Any) -> list[list[Any]]:
    with tables.xlsx_file(("one", "two"), rows, name="book") as file:
        return sheets(file.read())


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "http://a.test", "15"])
def test_a_text_is_a_text_in_xlsx_whatever_it_looks_like(text: str) -> None:
    kind, value, formula = xlsx_of((text, None))[1][0]
    assert (kind, value.strip("\t"), formula) == ("inlineStr", text.strip("\t"), False)


def test_a_number_is_a_number_in_xlsx_and_shows_the_decimals_entered() -> None:
    with tables.xlsx_file(("one",), [(Decimal("15.00"),)], name="book") as file:
        content = file.read()
    assert sheets(content)[1][0] == ("n", "15", False)
    styles = zipfile.ZipFile(io.BytesIO(content)).read("xl/styles.xml").decode()
    # A number format as ECMA-376 part 1, 18.8.30 writes it.
    assert 'formatCode="0.00"' in styles


def test_a_number_too_long_for_a_double_stays_a_text_in_xlsx() -> None:
    # 17 significant digits; a double (IEEE 754) keeps 15.
    assert xlsx_of((Decimal("123456789.12345678"), 1))[1][0][:2] == (
        "inlineStr",
        "123456789.12345678",
    )


def test_a_text_too_long_for_a_cell_says_in_the_cell_that_it_was_cut() -> None:
    # 32,767 characters of a cell: the limit of the program that the format comes from, which
    # openpyxl 3.1 enforces too (cell/cell.py, check_string).
    fits, long = "x" * 32_767, "x" * 32_768
    assert xlsx_of((fits, "end"))[1][0][1] == fits
    cut = xlsx_of((long, "end"))[1][0][1]
    assert len(cut) == 32_767
    assert cut.startswith("x" * 32_000)
    assert cut.endswith(
        "[cut here: a cell of a sheet holds no more. The whole text is in the CSV file.]"
    )
    assert csv_of((long, "end"))[1] == [long, "end"]


def test_a_letter_of_two_units_is_not_cut_in_half() -> None:
    cut = xlsx_of(("x" + "\N{TRACTOR}" * 20_000, "end"))[1][0][1]
    assert len(cut.encode("utf-16-le")) <= 2 * 32_767
    assert cut.rstrip(".] abcdefghijklmnopqrstuvwxyz:[TCSV").endswith("\N{TRACTOR}")


def test_a_table_longer_than_a_sheet_goes_on_in_the_next(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables, "SHEET_LINES", 3)
    rows = xlsx_of(*((str(n), n) for n in range(5)))
    firsts = [row[0][1] for row in rows]
    assert firsts == ["one", "0", "1", "one", "2", "3", "one", "4"]


def test_rows_are_read_as_they_are_sent() -> None:
    seen = []

    def rows() -> Any:
        for n in range(1000):
            seen.append(n)
            yield (str(n), n)

    first = next(tables.csv_lines(("one", "two"), rows()))
    assert first.startswith(b"\xef\xbb\xbfone,two\r\n")
    assert len(seen) == tables.LINES_AT_ONCE
