"""Boundaries from GeoJSON, KML and shapefiles (zip), in WGS 84.

GDAL (by pyogrio) reads KML and shapefiles. Left to itself it opens dozens of formats by looking at
the content, and some of them name other files, databases and addresses to read from. So it knows
two drivers here, what is given to it has been looked at and is named by us, and it never sees a
path: the bytes stay in memory.
"""

from __future__ import annotations

import io
import json
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from typing import Any
from xml.parsers import expat

import numpy as np
import pyogrio
import shapely
from pyogrio.errors import DataLayerError, DataSourceError, FieldError
from pyogrio.raw import read
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError

from logbook.readers import MAX_SHAPES, ZIP, Unreadable, markup, tables
from logbook.readers import gettext_noop as _

Found = Iterator[tuple[dict[str, str], str | None]]
"""Attributes as text, and the GeoJSON geometry as text."""

DRIVERS = {"LIBKML", "ESRI Shapefile"}

MAX_CORNERS = 500_000
MAX_TAGS = 300_000
"""Elements of a KML: sixty for each shape."""
MAX_UNPACKED = 40_000_000
MAX_PLACES = 9
"""Decimal places of a degree that are kept: a tenth of a millimetre."""

MAX_READ, PER_FOLDER = 120_000_000, 300_000
"""GDAL reads a KML anew for each of its folders: bytes in all, a beginning counted as so many."""

_SHAPES = struct.pack(">i", 9994)
_BEGINS: dict[str, bytes | tuple[bytes, ...]] = {
    ".shp": _SHAPES,
    ".shx": _SHAPES,
    ".dbf": (b"\x03", b"\x30", b"\x83"),
    ".prj": b"",
    ".cpg": b"",
}
"""The parts of a shapefile that are read, and what each begins with: the file code of ESRI's
"Shapefile Technical Description" (1998), and dBASE III and FoxPro (both from memory).
"""

_GIVEN = re.compile(r"/vsi\S*|pyogrio_\w+")
"""What GDAL calls the bytes that it was given."""

_WGS84 = CRS.from_epsg(4326)


def _only(drivers: set[str]) -> None:
    """Take away from GDAL all other drivers; the process ends if one is left."""
    others = pyogrio.list_drivers().keys() - drivers
    pyogrio.set_gdal_config_options({"OGR_SKIP": ",".join(others)})
    pyogrio._ogr._register_drivers()
    if pyogrio.list_drivers().keys() != drivers:
        raise SystemExit(f"GDAL reads more or less than {', '.join(drivers)}.")


_only(DRIVERS)


def read_shapes(raw: bytes) -> Iterator[Any]:
    """Yield attributes as text, and the GeoJSON geometry as text or None, of each shape.

    Raises: Unreadable, saying why it cannot be read and what can.
    """
    tables.check_size(raw)
    if raw.startswith(ZIP):
        found = _shapefile(raw)
    elif raw.lstrip(tables.BLANK).startswith(b"<"):
        found = _kml(raw)
    else:
        found = _geojson(raw)
    shapes = text = 0
    for told, shape in found:
        shapes += 1
        text += len(shape or "") + sum(map(len, told.values()))
        if shapes <= MAX_SHAPES and text <= tables.MAX_TEXT:
            yield told, shape
    if not shapes:
        raise _no_shape()
    if shapes > MAX_SHAPES:
        raise _too_many(shapes)
    if text > tables.MAX_TEXT:
        raise Unreadable(
            _("The cells show %(bytes)s bytes of text; at most %(most)s are read. Split it."),
            bytes=text,
            most=tables.MAX_TEXT,
        )


def _no_shape() -> Unreadable:
    return Unreadable(
        _(
            "There is no shape in this file. Boundaries are read from GeoJSON, KML and zipped "
            "shapefiles."
        )
    )


def _too_many(shapes: int) -> Unreadable:
    return Unreadable(
        _("The file holds %(count)s shapes; at most %(most)s are read at once. Split it."),
        count=shapes,
        most=MAX_SHAPES,
    )


def _too_many_corners() -> Unreadable:
    return Unreadable(
        _("The shapes have more than %(most)s corners in all. Split the file."), most=MAX_CORNERS
    )


# --- GeoJSON -------------------------------------------------------------------------------------


def _geojson(raw: bytes) -> Found:
    try:
        data = tables.json_value(raw)
    except (ValueError, RecursionError):
        raise Unreadable(
            _("This is no GeoJSON, KML or zipped shapefile that can be read.")
        ) from None
    if not isinstance(data, dict) or "type" not in data:
        raise Unreadable(_("This GeoJSON is no Feature, FeatureCollection or geometry."))
    if "crs" in data and "CRS84" not in json.dumps(data["crs"]):
        raise Unreadable(
            _("This GeoJSON names a reference system of its own; RFC 7946 allows WGS 84 alone.")
        )
    features = data.get("features") if data.get("type") == "FeatureCollection" else [data]
    for feature in features if isinstance(features, list) else []:
        if not isinstance(feature, dict):
            raise Unreadable(_("A feature of this GeoJSON is no object."))
        properties = feature.get("properties")
        whole = feature.get("geometry") if feature.get("type") == "Feature" else feature
        told = properties if isinstance(properties, dict) else {}
        yield (
            {str(key): _text(value) for key, value in told.items()},
            json.dumps(whole) if isinstance(whole, dict) else None,
        )


# --- KML -----------------------------------------------------------------------------------------


def _kml(raw: bytes) -> Found:
    yield from _layers(raw[_begin_of_kml(raw) :], crs=_WGS84)


def _begin_of_kml(raw: bytes) -> int:
    """Return where the root element begins; what stands before it is not given to GDAL.

    Raises: Unreadable if it is no KML, points elsewhere or holds too much.
    """
    begin = -1
    folders = shapes = tags = 0
    columns: set[str | None] = set()

    def declared(_version: str, encoding: str | None, _alone: int) -> None:
        if (encoding or "utf-8").lower() not in ("utf-8", "us-ascii"):
            raise Unreadable(_("The KML has to be in UTF-8."))

    def begins(name: str, attributes: dict[str, str]) -> None:
        nonlocal begin, folders, shapes, tags
        kind = markup.local(name)
        if begin < 0:
            begin = parser.CurrentByteIndex
            if kind != "kml":
                raise Unreadable(
                    _(
                        "This XML is no KML. Boundaries are read from GeoJSON, KML and zipped "
                        "shapefiles."
                    )
                )
        tags += 1
        if kind == "NetworkLink":
            raise Unreadable(_("The KML points at another file. Save the shapes themselves."))
        folders += kind in ("Document", "Folder")
        shapes += kind == "Placemark"
        if kind in ("Data", "SimpleField", "SimpleData"):
            columns.add(attributes.get("name"))

    # Another encoding could be read otherwise by GDAL.
    parser = markup.parser("utf-8")
    parser.XmlDeclHandler, parser.StartElementHandler = declared, begins
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        declared("", "utf-16", -1)
    try:
        for _piece in markup.parse(parser, io.BytesIO(raw)):
            pass
    except expat.ExpatError as bad:
        raise Unreadable(
            _(
                "This KML is damaged and cannot be read (%(why)s). Boundaries are read from "
                "GeoJSON, KML and zipped shapefiles."
            ),
            why=str(bad),
        ) from None
    if not shapes:
        raise _no_shape()
    if shapes > MAX_SHAPES:
        raise _too_many(shapes)
    if len(columns) > tables.MAX_COLUMNS:
        raise tables.too_wide(len(columns))
    if tags > MAX_TAGS:
        raise Unreadable(_("The file holds more values than are read at once. Split it."))
    if folders * (len(raw) + PER_FOLDER) > MAX_READ:
        raise Unreadable(
            _("The KML has %(count)s folders, too many for its size. Split it."), count=folders
        )
    return begin


# --- shapefile -----------------------------------------------------------------------------------


def _shapefile(raw: bytes) -> Found:
    try:
        tables.check_zip(raw, most_unpacked=MAX_UNPACKED)
        parts = _parts(raw)
    except (
        *(zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError),
        *(OSError, ValueError),
    ):
        raise Unreadable(_("The zip is damaged, or has a password. Pack it anew.")) from None
    lacking = [ending for ending in (".shx", ".dbf", ".prj") if ending not in parts]
    if lacking:
        raise Unreadable(
            _(
                "The zip lacks %(parts)s of the shapefile. The .prj says to which reference "
                "system its coordinates belong; without it they would be guessed."
            ),
            parts=", ".join(lacking),
        )
    _check_index(parts[".shx"], len(parts[".shp"]))
    try:
        crs = CRS.from_wkt(parts[".prj"].decode("utf-8-sig", errors="replace"))
    except CRSError:
        raise Unreadable(_("The .prj of the shapefile names no reference system.")) from None
    fresh = io.BytesIO()
    with zipfile.ZipFile(fresh, "w") as packed:
        for ending, content in parts.items():
            # A name of our own: nothing in the zip says what is read.
            packed.writestr(f"shapes{ending}", content)
    del parts
    yield from _layers(fresh.getvalue(), crs=crs)


def _parts(raw: bytes) -> dict[str, bytes]:
    """Return the parts of the one shapefile in a zip, by their ending."""
    with zipfile.ZipFile(io.BytesIO(raw)) as packed:
        entries = [one for one in packed.infolist() if not one.filename.startswith("__MACOSX")]
        if any(one.filename.lower().endswith(".kml") for one in entries):
            raise Unreadable(_("This is a KMZ. Save it as KML."))
        heads = [one for one in entries if one.filename.lower().endswith(".shp")]
        if len(heads) != 1:
            raise Unreadable(
                _("The zip holds %(count)s shapefiles; exactly one is read at once."),
                count=len(heads),
            )
        stem = heads[0].filename[:-4]
        parts = {}
        for one in entries:
            ending = one.filename[len(stem) :].lower()
            if one.filename.startswith(stem) and ending in _BEGINS:
                parts[ending] = packed.read(one)
                if not parts[ending].startswith(_BEGINS[ending]):
                    raise Unreadable(
                        _(
                            "The %(part)s in the zip is no part of a shapefile. Boundaries are "
                            "read from GeoJSON, KML and zipped shapefiles."
                        ),
                        part=ending,
                    )
        return parts


def _check_index(index: bytes, size: int) -> None:
    """Refuse an index of too many shapes, or of shapes that are longer together than their file."""
    shapes = max(0, len(index) - 100) // 8
    if shapes > MAX_SHAPES:
        raise _too_many(shapes)
    words = np.frombuffer(index, ">u4", count=2 * shapes, offset=100)[1::2].sum(dtype=np.int64)
    if 2 * words > size:
        raise Unreadable(_("The .shx of the shapefile does not belong to its .shp."))
    # Longitude, latitude, height and measure, each of 8 bytes.
    if size > 32 * MAX_CORNERS:
        raise _too_many_corners()


# --- GDAL and PROJ -------------------------------------------------------------------------------


def _layers(content: bytes, *, crs: CRS) -> Found:
    faults = (DataSourceError, DataLayerError, FieldError, ValueError, UnicodeDecodeError)
    turn = _to_wgs84(crs)
    corners = 0
    try:
        for layer in range(len(pyogrio.list_layers(content))):
            meta, _ids, shapes, columns = read(content, layer=layer, force_2d=True)
            fields = [str(field) for field in meta["fields"]]
            for place, packed in enumerate(shapes if shapes is not None else []):
                told = {
                    field: _text(column[place])
                    for field, column in zip(fields, columns, strict=True)
                }
                shape = _wgs84(packed, turn, number=place + 1)
                corners += shapely.get_num_coordinates(shape)
                if corners > MAX_CORNERS:
                    raise _too_many_corners()
                yield told, None if shape is None else shapely.to_geojson(shape)
    except faults as bad:
        raise Unreadable(
            _("This file of shapes is damaged and cannot be read (%(why)s)."),
            why=_GIVEN.sub("shapes", str(bad))[:200],
        ) from None


def _to_wgs84(crs: CRS) -> Transformer | None:
    """Return the way to WGS 84, None for what is in it already.

    Raises: Unreadable if the datum is not known: a guess may be off by a hundred metres and more.
    """
    if crs == _WGS84:
        return None
    try:
        return Transformer.from_crs(crs, _WGS84, always_xy=True, allow_ballpark=False)
    except ProjError:
        raise Unreadable(
            _(
                "No way is known from the reference system of the .prj, %(name)s, to WGS 84. Save "
                "the shapes in WGS 84."
            ),
            name=crs.name[:100],
        ) from None


def _wgs84(packed: bytes | None, turn: Transformer | None, *, number: int) -> Any:
    """Return a shape in WGS 84, its coordinates to the tenth of a millimetre."""
    if packed is None:
        return None
    try:
        shape = shapely.from_wkb(packed)
        if turn is not None:
            shape = shapely.transform(
                shape, lambda x, y: turn.transform(x, y, errcheck=True), interleaved=False
            )
    except (shapely.errors.ShapelyError, ProjError) as bad:
        raise Unreadable(
            _("Shape %(number)s cannot be brought to WGS 84 (%(why)s)."),
            number=number,
            why=str(bad)[:200],
        ) from None
    return shapely.transform(shape, lambda both: np.round(both, MAX_PLACES))


def _text(value: Any) -> str:
    if value is None or (isinstance(value, float) and np.isnan(value)):
        return ""
    if isinstance(value, (float, np.floating)):
        return f"{value:.15g}"
    return str(value).strip()
