"""Rows of text out of CSV and XLSX; what would cost too much or do too much is refused.

The XLSX files are written by openpyxl, which shares no code with the reader under test.
"""

from __future__ import annotations

import io
import zipfile
from datetime import date, datetime

import openpyxl
import pytest

from logbook.catalog.sheets.reading import table_of
from logbook.errors.exceptions import Refused
from logbook.readers import Unreadable, tables

MORNING = datetime(2026, 5, 14, 9, 30)  # noqa: DTZ001  (a sheet knows no zone)


def workbook(*rows, save=None) -> bytes:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    if save:
        save(book)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def packed_anew(raw: bytes, **parts: bytes) -> bytes:
    """Return the workbook with some parts written otherwise; "sheet" is the first sheet."""
    named = {
        "sheet": "xl/worksheets/sheet1.xml",
        "macros": "xl/vbaProject.bin",
        "texts": "xl/sharedStrings.xml",
    }
    new = {named[name]: content for name, content in parts.items()}
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(raw)) as old, zipfile.ZipFile(out, "w", 8) as fresh:
        for entry in old.namelist():
            if entry not in new:
                fresh.writestr(entry, old.read(entry))
        for name, content in new.items():
            fresh.writestr(name, content)
    return out.getvalue()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_csv_is_read_in_each_encoding_and_with_each_separator(encoding, separator):
    text = f"name{separator}address\r\nJosé{separator}“Farm” 12\r\n"
    table = table_of(text.encode(encoding))
    assert table.head == ["name", "address"]
    assert table.rows == [(2, ["José", "“Farm” 12"])]
    assert bool(table.notes) is (encoding == "cp1252")


def test_rows_carry_the_number_that_a_spreadsheet_shows():
    raw = b'name,address\n\n,\n"Two\nlines",x\nEXAMPLE: none,x\nLast,y\n'
    table = table_of(raw)
    assert [number for number, _cells in table.rows] == [4, 6]
    assert table.examples == 1


def test_numbers_days_and_truths_of_a_workbook_become_what_a_person_types():
    raw = workbook(
        ["a", "b", "c", "d", "e", "f"],
        [0.1, 0.1 + 0.2, 12, date(2026, 5, 14), True, "007"],
        [1e15, -0.5, 1234567.25, MORNING, None, " x "],
    )
    rows = [cells for _number, cells in table_of(raw).rows]
    assert rows[0] == ["0.1", "0.3", "12", "2026-05-14", "yes", "007"]
    assert rows[1] == ["1000000000000000", "-0.5", "1234567.25", "2026-05-14T09:30:00", "", " x "]


def test_a_formula_is_never_computed_and_a_merged_cell_stands_in_its_first():
    def merge(book):
        book.active["A2"] = "=1+1"  # openpyxl writes no value beside it
        book.active["B3"] = "both"
        book.active.merge_cells("B3:C3")

    table = table_of(workbook(["a", "b", "c"], save=merge))
    assert table.rows == [(3, ["", "both", ""])]


def test_only_the_first_sheet_is_read_and_it_is_said():
    table = table_of(workbook(["name"], ["A"], save=lambda book: book.create_sheet("Other")))
    assert "Only the first sheet" in table.notes[0]


def test_an_apostrophe_before_a_formula_is_taken_away_again():
    assert table_of(b"name,phone\nA,'+1 555\n").rows == [(2, ["A", "+1 555"])]


ROWS = workbook(["name"], ["A"])
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
SHEET = f'<worksheet xmlns="{MAIN}"><sheetData>'.encode() + b"%s</sheetData></worksheet>"


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"", "is empty"),
        (b"\n\n", "is empty"),
        (b"\x00\x01\x02", "no text that can be read"),
        (b"name\n\x81\x8d", "no text that can be read"),
        (b'name\n"open', "not CSV"),
        (b"a," * 300 + b"a\n", "at most 200"),
        (b"\xd0\xcf\x11\xe0" + bytes(500), "old kind"),
        (ROWS[: len(ROWS) // 2], "damaged"),
        (packed_anew(ROWS, macros=b"x"), "macros"),
        (packed_anew(ROWS, sheet=b"<!DOCTYPE x [<!ENTITY a 'b'>]>" + SHEET % b""), "entities"),
        # One cell in the last corner would make the library keep 17 thousand million places.
        (
            packed_anew(
                ROWS, sheet=SHEET % b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'
            ),
            "16,384 columns",
        ),
        (
            packed_anew(ROWS, sheet=SHEET % b'<row r="900000"><c r="A900000"><v>1</v></c></row>'),
            "900,000",
        ),
        # The library reads a cell's place also in small letters, after an entity of XML, in UTF-16
        # and, where none is written, by counting.
        (packed_anew(ROWS, sheet=SHEET % b'<row r="9"><c r="xfd9"/></row>'), "16,384 columns"),
        (packed_anew(ROWS, sheet=SHEET % b'<row r="9"><c r="&#88;FD9"/></row>'), "16,384 columns"),
        (packed_anew(ROWS, sheet=SHEET % (b"<row>" + b"<c/>" * 201 + b"</row>")), "201 columns"),
        (
            packed_anew(
                ROWS,
                sheet=(SHEET % b'<row r="9"><c r="XFD9"/></row>').decode().encode("utf-16"),
            ),
            "16,384 columns",
        ),
        (
            packed_anew(ROWS, sheet=SHEET % b'<row r="150000"><c r="GR150000"/></row>'),
            "30,000,000 cells",
        ),
        (packed_anew(ROWS, sheet=b"no xml at all"), "damaged"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_cannot_be_read_is_refused_with_the_reason(raw, words):
    with pytest.raises(Refused, match=words):
        table_of(raw)


def test_a_sheet_under_a_name_that_is_not_looked_through_is_refused():
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(ROWS)) as old, zipfile.ZipFile(out, "w", 8) as fresh:
        for entry in old.namelist():
            content = old.read(entry).replace(b"worksheets/sheet1.xml", b"worksheets/sheet1.dat")
            fresh.writestr(entry.replace("sheet1.xml", "sheet1.dat"), content)
    with pytest.raises(Refused, match="damaged"):
        table_of(out.getvalue())


def test_another_kind_of_spreadsheet_beside_the_workbook_is_refused():
    out = io.BytesIO(ROWS)
    with zipfile.ZipFile(out, "a") as packed:
        packed.writestr("content.xml", "<office:document-content/>")
    with pytest.raises(Refused, match=r"no \.xlsx"):
        table_of(out.getvalue())


def test_a_name_that_begins_like_the_example_row_is_read():
    table = table_of(b"name,address\nEXAMPLE: none,x\nExample Farms,road 1\n")
    assert (table.rows, table.examples) == ([(3, ["Example Farms", "road 1"])], 1)


def test_a_zip_that_is_no_spreadsheet_is_refused():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("readme.txt", "x")
    with pytest.raises(Refused, match=r"no \.xlsx"):
        table_of(out.getvalue())


def test_a_few_bytes_that_unpack_to_gigabytes_are_refused():
    bomb = packed_anew(ROWS, sheet=SHEET % (b" " * 110_000_000))
    assert len(bomb) < 200_000
    with pytest.raises(Refused, match="Unpacked, the file has more than 100,000,000"):
        table_of(bomb)


def with_shared_texts(*texts: str, cells: bytes) -> bytes:
    """Return a workbook of these shared texts, and of cells that show them by their number."""
    listed = "".join(f"<si><t>{text}</t></si>" for text in texts)
    return packed_anew(
        ROWS,
        sheet=SHEET % cells,
        texts=f'<sst xmlns="{MAIN}">{listed}</sst>'.encode(),
    )


@pytest.mark.parametrize(
    ("cell", "texts"),
    [
        (b'<c t="s"><v>0</v></c>', ["x" * 1_000_000]),
        (b'<c t="s"><v>&#49;</v></c>', ["a", "x" * 1_000_000]),
        (b'<c t="s"><v>+1</v></c>', ["a", "x" * 1_000_000]),
        (b'<x:c xmlns:x="a" t="s"><x:v>0</x:v></x:c>', ["x" * 1_000_000]),
        (b'<c t="s"><v>0</v></c>', ["\N{SNOWMAN}" * 400_000]),
    ],
    ids=["plain", "entity", "sign", "prefix", "bytes"],
)
def test_one_long_text_that_many_cells_show_is_refused(cell, texts):
    raw = with_shared_texts(*texts, cells=b"".join(b"<row>%s</row>" % cell for _ in range(1_000)))
    assert len(raw) < 20_000
    with pytest.raises(Refused, match="of text; at most 20,000,000"):
        table_of(raw)


def test_a_text_in_two_pieces_of_a_part_is_counted_by_its_whole_number():
    """The parser hands over what it has at the end of each piece that it is fed."""
    row = b'<row><c t="s"><v>10</v></c></row>'
    before = SHEET.index(b"%s")
    blank = b" " * (tables.markup.CHUNK - before - row.index(b"10") - 1)
    raw = with_shared_texts(*"abcdefghij", "x" * 200_000, cells=blank + row)
    assert table_of(raw).head == ["x" * 200_000]
    found = tables._Found()
    with zipfile.ZipFile(io.BytesIO(raw)) as packed:
        for name in ("xl/worksheets/sheet1.xml", "xl/sharedStrings.xml"):
            with packed.open(name) as part:
                list(found.pieces(part, name=name))
    assert list(found.uses) == [0] * 10 + [1]


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        (b"<x/>" * 20_000_000, "too large to be read"),  # half a minute of work in 80 kB
        (b"<row>" + b'<c r="A1"/>' * 800_001 + b"</row>", "more than 800,000 cells"),
        (
            b'<row><c t="str"><v>' + b"x" * 20_000_001 + b"</v></c></row>",
            r"20,000,\d+ bytes of text",
        ),
        (b'<row><c x="' + b"x" * 2_000_000 + b'"/></row>', "too long"),
        (b"<!--" + b"x" * 2_000_000 + b"-->", "too long"),
        (b'<row><c t="s"><v>0<x/></v></c></row>', "damaged"),
        (b'<row><c t="s"><v>99999999999</v></c></row>', "damaged"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_sheet_that_asks_for_too_much_work_is_refused(cells, words):
    with pytest.raises(Refused, match=words):
        table_of(packed_anew(ROWS, sheet=SHEET % cells))


def test_too_many_bytes_rows_or_cells_are_refused(monkeypatch):
    # The limits of this process are not those of the one that reads, so the reader is called here.
    monkeypatch.setattr(tables, "MAX_ROWS", 2)
    with pytest.raises(Unreadable, match="3 rows; at most 2"):
        list(tables.read_table(b"name\na\nb\nc\n"))
    for limit, words in (("MAX_PLACES", "spans 4 cells"), ("MAX_CELLS", "more than 3 cells")):
        with monkeypatch.context() as less:
            less.setattr(tables, limit, 3)
            with pytest.raises(Unreadable, match=words):
                list(tables.read_table(b"name,b\na,c\n"))
    monkeypatch.setattr(tables, "MAX_BYTES", 5)
    with pytest.raises(Unreadable, match="at most 5"):
        list(tables.read_table(b"name\na\n"))
