"""What the largest files that are still read cost: at most 200 MB and 5 s of a processor.

Each is made to the limit that it is named for, read by the process as a door has it read, and
measured by the system (getrusage(2)); an empty file of its kind is what memory is compared with.
"""

from __future__ import annotations

import io
import json
import subprocess
import sys
import zipfile

import numpy as np
import pytest
import shapely
from pyogrio.raw import write

from logbook import uploads as confined
from logbook.readers import MAX_SHAPES, tables
from tests.logbook.catalog.sheets.test_reading import ROWS, SHEET, packed_anew, with_shared_texts

# Between the tests and the process, because a child's memory counts that of who started it, too.
MEASURE = """
import json, resource, subprocess, sys
ran = subprocess.run(json.loads(sys.argv[1]), stdout=subprocess.PIPE, env=json.loads(sys.argv[2]))
used = resource.getrusage(resource.RUSAGE_CHILDREN)
end = ran.stdout[ran.stdout.rstrip().rfind(b"\\n") + 1 :].decode()
print(json.dumps([end, used.ru_maxrss * 1024 / 1e6, used.ru_utime + used.ru_stime]))
"""

NOTHING = {
    "table": b"name\n",
    "shapes": b'{"type": "Point", "coordinates": [1, 2]}',
    "records": b"{}",
}


def measured(reader: str, raw: bytes, folder) -> tuple[str, float, float]:
    """Return the last line, memory [MB] and processor time [s] of reading a file."""
    path = folder / "file"
    path.write_bytes(raw)
    asked = [json.dumps(confined.command(reader)), json.dumps(confined.ENVIRONMENT)]
    with path.open("rb") as file:
        said = subprocess.run(
            [sys.executable, "-I", "-c", MEASURE, *asked],
            stdin=file,
            capture_output=True,
            check=True,
        )
    end, memory, seconds = json.loads(said.stdout)
    return end, memory, seconds


def rows(cells: int, cell: str) -> bytes:
    """Return rows of ten cells, "{}" in them the number of the cell."""
    parts = (
        f"<row>{''.join(cell.format(at) for at in range(first, first + 10))}</row>"
        for first in range(0, cells, 10)
    )
    return "".join(parts).encode()


def shared_texts() -> bytes:
    """Every cell has its own text, kept apart: eight tags for each."""
    most = tables.MAX_TAGS // 8 * 97 // 100
    return with_shared_texts(
        *(f"text {at}" for at in range(most)), cells=rows(most, '<c t="s"><v>{}</v></c>')
    )


def numbers() -> bytes:
    return packed_anew(ROWS, sheet=SHEET % rows(tables.MAX_CELLS - 10, "<c><v>{}.25</v></c>"))


def one_long_text() -> bytes:
    """As much text as is read, in cells that share one of four bytes a letter."""
    cells = tables.MAX_TEXT // 200_000 - 10
    return with_shared_texts(
        "\N{GRINNING FACE}" * 50_000, cells=rows(cells, '<c t="s"><v>0</v></c>')
    )


def last_corner() -> bytes:
    last = tables.MAX_PLACES // tables.MAX_COLUMNS
    return packed_anew(
        ROWS, sheet=SHEET % b'<row r="%d"><c r="GR%d"><v>1</v></c></row>' % (last, last)
    )


def csv_cells() -> bytes:
    return "\n".join(
        ",".join(f"\N{GRINNING FACE}{at:07}" for at in range(8)) for _row in range(99_999)
    ).encode()


def kml() -> bytes:
    data = "".join(f'<Data name="c{at}"><value>{at}</value></Data>' for at in range(25))
    ring = " ".join(f"-97.{at:06},47.{at:06}" for at in range(98)) + " -97.000000,47.000000"
    place = (
        f"<Placemark><ExtendedData>{data}</ExtendedData><Polygon><outerBoundaryIs><LinearRing>"
        f"<coordinates>{ring}</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>"
    )
    return f"<kml><Document>{place * MAX_SHAPES}</Document></kml>".encode()


def folders() -> bytes:
    """A folder for each field: as many as are read of so small a file."""
    place = "<Placemark><name>N</name><Point><coordinates>-97,47</coordinates></Point></Placemark>"
    return f"<kml><Document>{f'<Folder>{place}</Folder>' * 350}</Document></kml>".encode()


def geojson() -> bytes:
    ring = ",".join(f"[-97.{at:06},47.{at:06}]" for at in range(97))
    feature = (
        '{"type":"Feature","properties":{"name":"N"},"geometry":'
        f'{{"type":"Polygon","coordinates":[[{ring}]]}}}}'
    )
    features = ",".join([feature] * MAX_SHAPES)
    return f'{{"type":"FeatureCollection","features":[{features}]}}'.encode()


def records() -> bytes:
    objects = ",".join(['{"a":"b"}'] * (tables.MAX_OBJECTS - 1))
    lists = ",".join(["[]"] * (tables.MAX_LISTS - 1))
    texts = '"ab",' * (tables.MAX_VALUES - tables.MAX_OBJECTS - tables.MAX_LISTS)
    return f'{{"records":[{texts}{lists},{objects}]}}'.encode()


def shapefile(folder) -> bytes:
    """Five thousand circles of 97 corners in another reference system, ten columns."""
    circle = shapely.to_wkb(shapely.Point(500_000, 5_000_000).buffer(100, quad_segs=24))
    write(
        str(folder / "fields.shp"),
        geometry=np.array([circle] * MAX_SHAPES, dtype=object),
        field_data=[np.array([f"value {at}"] * MAX_SHAPES, dtype=object) for at in range(10)],
        fields=np.array([f"c{at}" for at in range(10)], dtype=object),
        geometry_type="Polygon",
        crs="EPSG:26914",
        driver="ESRI Shapefile",
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", 8) as packed:
        for part in (".shp", ".shx", ".dbf", ".prj"):
            packed.write(folder / f"fields{part}", f"fields{part}")
    return out.getvalue()


@pytest.mark.parametrize(
    ("reader", "made"),
    [
        *(("table", made) for made in (shared_texts, numbers, one_long_text, last_corner)),
        ("table", csv_cells),
        *(("shapes", made) for made in (kml, folders, geojson, shapefile)),
        ("records", records),
    ],
)
def test_a_file_at_its_limit_is_read_in_200_mb_and_5_s(reader, made, tmp_path):
    raw = made(tmp_path) if made is shapefile else made()
    _end, before, _seconds = measured(reader, NOTHING[reader], tmp_path)
    end, memory, seconds = measured(reader, raw, tmp_path)
    print(f"\n{made.__name__}: {len(raw):,} bytes, {memory - before:.0f} MB, {seconds:.1f} s")
    assert end.strip() == '{"end": true}'
    assert memory - before < 200
    assert seconds < 5
