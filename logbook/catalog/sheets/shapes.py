"""Boundaries from and to GeoJSON, KML and shapefiles (zip), in WGS 84.

GDAL (by pyogrio) reads and writes KML and shapefiles; GeoJSON is read by the code that reads a
pasted boundary. What is no such file is refused before GDAL sees it: GDAL opens dozens of formats
by looking, and some of them follow addresses.
"""

from __future__ import annotations

import io
import json
import re
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Sequence
from pathlib import PurePosixPath
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import shapely
from django.utils.translation import gettext as _
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError

from logbook.base.locale import count
from logbook.base.refusals import Refused
from logbook.catalog.sheets.reading import MOST_BYTES, Table

FORMATS = {
    "geojson": "application/geo+json",
    "kml": "application/vnd.google-earth.kml+xml",
    "zip": "application/zip",
}
"""Endings and media types of the files that are written; the zip holds a shapefile."""

MOST_SHAPES = 5_000
MOST_UNPACKED = 100_000_000
MOST_PLACES = 9
"""Decimal places of a degree that are kept: a tenth of a millimetre."""

_PARTS = (".shp", ".shx", ".dbf", ".prj", ".cpg", ".qpj", ".sbn", ".sbx", ".xml", ".qmd", ".fix")
_WGS84 = CRS.from_epsg(4326)

Shape = tuple[dict[str, str], dict[str, Any] | None]
"""Attributes as text, and the GeoJSON geometry."""


def is_shapes(raw: bytes, name: str) -> bool:
    """Return whether a file holds shapes, by its content, or else by its name."""
    if raw.startswith(b"PK\x03\x04"):
        return any(entry.lower().endswith((".shp", ".kml")) for entry in _names(raw))
    start = raw[:1000].lstrip(b"\xef\xbb\xbf \t\r\n")
    return start.startswith((b"{", b"<")) or PurePosixPath(name).suffix.lower() in (
        ".kml",
        ".kmz",
        ".geojson",
    )


def _names(raw: bytes) -> list[str]:
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as packed:
            return packed.namelist()
    except (zipfile.BadZipFile, OSError, ValueError):
        return []


# --- in ------------------------------------------------------------------------------------------


def read_shapes(raw: bytes) -> list[Shape]:
    """Return the shapes of a GeoJSON, KML or zipped shapefile, in WGS 84.

    Raises: Refused, saying why it cannot be read.
    """
    if len(raw) > MOST_BYTES:
        raise Refused(
            _("The file has %(bytes)s bytes; at most %(most)s are read at once. Split it.")
            % {"bytes": count(len(raw)), "most": count(MOST_BYTES)}
        )
    if raw.startswith(b"PK\x03\x04"):
        found = list(_shapefile(raw))
    elif raw.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<"):
        found = list(_kml(raw))
    else:
        found = list(_geojson(raw))
    if not found:
        raise Refused(_("There is no shape in this file."))
    if len(found) > MOST_SHAPES:
        raise Refused(
            _("The file holds %(count)s shapes; at most %(most)s are read at once. Split it.")
            % {"count": count(len(found)), "most": count(MOST_SHAPES)}
        )
    return found


def boundary_text(raw: bytes) -> str:
    """Return the shapes of a file as one GeoJSON text, for the form of a field.

    Raises: Refused as `read_shapes`.
    """
    features = [
        {"type": "Feature", "properties": {}, "geometry": shape}
        for _told, shape in read_shapes(raw)
    ]
    return json.dumps({"type": "FeatureCollection", "features": features})


def _geojson(raw: bytes) -> Iterator[Shape]:
    try:
        data = json.loads(raw.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        raise Refused(_("This is no GeoJSON, KML or zipped shapefile that can be read.")) from None
    if not isinstance(data, dict) or "type" not in data:
        raise Refused(_("This GeoJSON is no Feature, FeatureCollection or geometry."))
    if "crs" in data and "CRS84" not in json.dumps(data["crs"]):
        raise Refused(
            _("This GeoJSON names a reference system of its own; RFC 7946 allows WGS 84 alone.")
        )
    features = data.get("features") if data.get("type") == "FeatureCollection" else [data]
    for feature in features if isinstance(features, list) else []:
        if not isinstance(feature, dict):
            raise Refused(_("A feature of this GeoJSON is no object."))
        properties = feature.get("properties")
        whole = feature.get("geometry") if feature.get("type") == "Feature" else feature
        told = properties if isinstance(properties, dict) else {}
        yield {str(key): _text(value) for key, value in told.items()}, _or_none(whole)


def _or_none(value: Any) -> dict[str, Any] | None:
    return value if isinstance(value, dict) else None


_DECLARED = re.compile(rb"<!(DOCTYPE|ENTITY)", re.IGNORECASE)
_LINK = re.compile(rb"<(\w+:)?NetworkLink\b")


def _kml(raw: bytes) -> Iterator[Shape]:
    # Another encoding could hide what is looked for here.
    head = raw[:200].lower()
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")) or (
        b"encoding" in head and b"utf-8" not in head and b"us-ascii" not in head
    ):
        raise Refused(_("The KML has to be in UTF-8."))
    if _DECLARED.search(raw):
        raise Refused(_("The file declares XML entities, which are not read."))
    if _LINK.search(raw):
        raise Refused(_("The KML points at another file. Save the shapes themselves."))
    if b"kml" not in raw[:2000]:
        raise Refused(_("This XML is no KML."))
    with TemporaryDirectory() as folder:
        path = f"{folder}/shapes.kml"
        with open(path, "wb") as file:
            file.write(raw)
        yield from _layers(path, crs=_WGS84)


def _shapefile(raw: bytes) -> Iterator[Shape]:
    if any(name.lower().endswith(".kml") for name in _names(raw)):
        raise Refused(_("This is a KMZ. Save it as KML."))
    with TemporaryDirectory() as folder:
        stem, crs = _unpack(raw, folder)
        yield from _layers(f"{folder}/{stem}.shp", crs=crs)


def _unpack(raw: bytes, folder: str) -> tuple[str, CRS]:
    """Unpack the parts of the one shapefile; return its new name and its reference system."""
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as packed:
            entries = [one for one in packed.infolist() if not one.filename.startswith("__MACOSX")]
            heads = [one for one in entries if one.filename.lower().endswith(".shp")]
            if len(heads) != 1:
                raise Refused(
                    _("The zip holds %(count)s shapefiles; exactly one is read at once.")
                    % {"count": len(heads)}
                )
            if sum(one.file_size for one in entries) > MOST_UNPACKED:
                raise Refused(
                    _("Unpacked, the file has more than %(most)s bytes. Split it.")
                    % {"most": count(MOST_UNPACKED)}
                )
            stem = heads[0].filename[:-4]
            parts = {}
            for one in entries:
                ending = one.filename[len(stem) :].lower()
                if one.filename.startswith(stem) and ending in _PARTS:
                    # A name of our own: nothing in the zip says where it is unpacked to.
                    parts[ending] = packed.read(one)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError):
        raise Refused(_("The zip is damaged, or has a password. Pack it anew.")) from None
    lacking = [ending for ending in (".shx", ".dbf", ".prj") if ending not in parts]
    if lacking:
        raise Refused(
            _(
                "The zip lacks %(parts)s of the shapefile. The .prj says to which reference "
                "system its coordinates belong; without it they would be guessed."
            )
            % {"parts": ", ".join(lacking)}
        )
    for ending, content in parts.items():
        with open(f"{folder}/shapes{ending}", "wb") as file:
            file.write(content)
    try:
        crs = CRS.from_wkt(parts[".prj"].decode("utf-8-sig", errors="replace"))
    except CRSError:
        raise Refused(_("The .prj of the shapefile names no reference system.")) from None
    return "shapes", crs


def _layers(path: str, *, crs: CRS) -> Iterator[Shape]:
    import pyogrio
    from pyogrio.errors import DataLayerError, DataSourceError, FieldError
    from pyogrio.raw import read

    faults = (DataSourceError, DataLayerError, FieldError, ValueError, UnicodeDecodeError)
    try:
        names = [str(name) for name, _kind in pyogrio.list_layers(path)]
        layers = [read(path, layer=name, force_2d=True) for name in names]
    except faults as bad:
        raise Refused(
            _("This file of shapes is damaged and cannot be read (%(why)s).")
            % {"why": _without(path, str(bad))}
        ) from None
    turn = _to_wgs84(crs)
    for meta, _ids, shapes, columns in layers:
        fields = [str(name) for name in meta["fields"]]
        for place, packed in enumerate(shapes if shapes is not None else []):
            told = {
                name: _text(column[place]) for name, column in zip(fields, columns, strict=True)
            }
            yield told, _geometry(packed, turn, number=place + 1)


def _without(path: str, why: str) -> str:
    """Return a reason without the place where the file was put for reading."""
    return why.replace(path, "shapes")[:200]


def _to_wgs84(crs: CRS) -> Transformer | None:
    """Return the way to WGS 84, None for what is in it already.

    Raises: Refused if the datum is not known: a guess may be off by a hundred metres and more.
    """
    if crs == _WGS84:
        return None
    try:
        return Transformer.from_crs(crs, _WGS84, always_xy=True, allow_ballpark=False)
    except ProjError:
        raise Refused(
            _(
                "No way is known from the reference system of the .prj, %(name)s, to WGS 84. Save "
                "the shapes in WGS 84."
            )
            % {"name": crs.name[:100]}
        ) from None


def _geometry(
    packed: bytes | None, turn: Transformer | None, *, number: int
) -> dict[str, Any] | None:
    """Return a shape as GeoJSON in WGS 84, its coordinates to the tenth of a millimetre."""
    if packed is None:
        return None
    try:
        shape = shapely.from_wkb(packed)
        if turn is not None:
            shape = shapely.transform(
                shape, lambda x, y: turn.transform(x, y, errcheck=True), interleaved=False
            )
    except (shapely.errors.ShapelyError, ProjError) as bad:
        raise Refused(
            _("Shape %(number)s cannot be brought to WGS 84 (%(why)s).")
            % {"number": number, "why": str(bad)[:200]}
        ) from None
    shape = shapely.transform(shape, lambda both: np.round(both, MOST_PLACES))
    found: dict[str, Any] = json.loads(shapely.to_geojson(shape))
    return found


def _text(value: Any) -> str:
    if value is None or (isinstance(value, float) and np.isnan(value)):
        return ""
    if isinstance(value, (float, np.floating)):
        return f"{value:.15g}"
    return str(value).strip()


# --- as a sheet ----------------------------------------------------------------------------------

ATTRIBUTES = ("customer", "customer_address", "name", "place", "time_zone")


def table_of(raw: bytes, *, name: str, options: dict[str, str]) -> tuple[Table, list[str]]:
    """Return shapes as rows of fields, and the attributes that are passed over.

    Args: options: by column of the sheet, "<column>_from" the attribute that holds it, and
    "<column>" what to write where the shape does not say it.
    Raises: Refused as `read_shapes`, and where an attribute that was named is not there.
    """
    found = read_shapes(raw)
    attributes = list(dict.fromkeys(key for told, _shape in found for key in told))
    by_name = {one.casefold(): one for one in reversed(attributes)}
    used: dict[str, str] = {}
    for column in ATTRIBUTES:
        wanted = options.get(f"{column}_from", "").strip()
        if wanted and wanted.casefold() not in by_name:
            raise Refused(
                _("No shape has the attribute “%(wanted)s”; there are: %(there)s.")
                % {"wanted": wanted, "there": ", ".join(attributes) or _("none")}
            )
        source = by_name.get((wanted or column).casefold())
        if source:
            used[column] = source
    rows = []
    for number, (told, shape) in enumerate(found, start=1):
        cells = [
            told.get(used.get(column, ""), "") or options.get(column, "").strip()
            for column in ATTRIBUTES
        ]
        rows.append((number, [*cells, json.dumps(shape) if shape else "null"]))
    passed_over = [one for one in attributes if one not in used.values()]
    notes = (_("The rows are the shapes of %(name)s, counted from 1.") % {"name": name},)
    return Table(head=[*ATTRIBUTES, "boundary"], rows=rows, notes=notes), passed_over


# --- out -----------------------------------------------------------------------------------------


def write_shapes(fields: Iterable[Any], *, ending: str) -> bytes:
    """Return the boundaries of fields as a file; fields without one are left out.

    Args: fields, with their customers; ending, of `FORMATS`.
    Raises: Refused if there is nothing to write.
    """
    rows = [
        (
            {
                "customer": field.customer.name,
                "name": field.name,
                "place": field.place,
                "time_zone": field.time_zone,
            },
            field.boundary,
        )
        for field in fields
        if field.boundary
    ]
    if not rows:
        raise Refused(_("No field here has a boundary yet."))
    if ending == "geojson":
        features = [
            {"type": "Feature", "properties": told, "geometry": shape} for told, shape in rows
        ]
        whole = {"type": "FeatureCollection", "features": features}
        return json.dumps(whole, ensure_ascii=False, allow_nan=False).encode()
    with TemporaryDirectory() as folder:
        if ending == "kml":
            path = f"{folder}/fields.kml"
            _write(path, "KML", rows)
            with open(path, "rb") as file:
                return file.read()
        _write(f"{folder}/fields.shp", "ESRI Shapefile", rows)
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
            for part in (".shp", ".shx", ".dbf", ".prj", ".cpg"):
                packed.write(f"{folder}/fields{part}", f"fields{part}")
        return out.getvalue()


def _write(path: str, driver: str, rows: Sequence[tuple[dict[str, str], Any]]) -> None:
    from pyogrio.raw import write

    shapes = [shapely.from_geojson(json.dumps(shape)) for _told, shape in rows]
    # One kind of geometry: a shapefile knows no other way.
    whole = [shapely.multipolygons([one]) if one.geom_type == "Polygon" else one for one in shapes]
    names = list(rows[0][0])
    write(
        path,
        geometry=np.array([shapely.to_wkb(one) for one in whole], dtype=object),
        field_data=[np.array([told[name] for told, _s in rows], dtype=object) for name in names],
        fields=np.array(names, dtype=object),
        geometry_type="MultiPolygon",
        crs="EPSG:4326",
        driver=driver,
        encoding="UTF-8",
    )
