"""Boundaries from and to GeoJSON, KML and shapefiles (zip), in WGS 84.

They are written here, by GDAL (pyogrio); files are read in a process of their own.
"""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Iterable, Sequence
from pathlib import PurePosixPath
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import shapely
from django.utils.translation import gettext as _

from logbook.catalog.boundaries import read_shapes
from logbook.catalog.sheets.reading import Table
from logbook.errors.exceptions import Refused

FORMATS = {
    "geojson": "application/geo+json",
    "kml": "application/vnd.google-earth.kml+xml",
    "zip": "application/zip",
}
"""Endings and media types of the files that are written; the zip holds a shapefile."""


def is_named_as_shapes(name: str) -> bool:
    """Return whether a file is called as one of shapes is."""
    return PurePosixPath(name).suffix.lower() in (".kml", ".kmz", ".geojson")


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
        rows.append((number, [*cells, shape or "null"]))
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
