"""The inputs for what lies on the land: an outline or a place, as pasted GeoJSON or from a file."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.catalog.boundaries import boundary_text
from logbook.errors.exceptions import Refused
from logbook.readers import ZIP

MAX_BYTES = 1_000_000
"""A boundary file larger than this is no field."""


_BARE_NUMBERS = re.compile(r"[\s\d.,;:+°'\"NESW()\[\]-]+\Z")

NOT_GEOJSON = gettext_lazy(
    "This is not GeoJSON: it cannot be read as JSON. Paste the whole text of the file, from the "
    "first { to the last }."
)
BARE_LIST = gettext_lazy(
    "These are bare coordinates. Write them as GeoJSON, longitude first, the last position the "
    'same as the first: {"type": "Polygon", "coordinates": [[[-97.2, 47.1], [-97.1, 47.1], '
    "[-97.1, 47.2], [-97.2, 47.1]]]}. A program that draws maps can save a field so."
)


def read_boundary(text: str) -> dict[str, Any]:
    """Return the GeoJSON geometry in `text`: bare, in a Feature, or in a collection of them.

    Raises: ValidationError if it is no GeoJSON or holds no geometry (RFC 7946).
    """
    try:
        return _one_shape(json.loads(text))
    except RecursionError:
        raise ValidationError(
            _("The brackets of this are nested too deep for a boundary.")
        ) from None
    except ValueError:
        bare = _BARE_NUMBERS.match(text) and re.search(r"\d", text)
        raise ValidationError(BARE_LIST if bare else NOT_GEOJSON) from None


def _one_shape(found: Any) -> dict[str, Any]:
    if isinstance(found, list) and found:
        raise ValidationError(BARE_LIST)
    shapes = list(_geometries(found))
    if not shapes:
        raise ValidationError(
            _("There is no shape in this GeoJSON; it needs a Polygon or a MultiPolygon.")
        )
    parts: list[Any] = []
    for shape in shapes:
        kind, rings = shape.get("type"), shape.get("coordinates")
        if kind not in ("Polygon", "MultiPolygon"):
            raise ValidationError(
                _("A %(kind)s is no field; only Polygon and MultiPolygon are.") % {"kind": kind}
            )
        if not isinstance(rings, list) or not _only_numbers(rings):
            raise ValidationError(
                _("The coordinates of this %(kind)s are no lists of positions.") % {"kind": kind}
            )
        parts.extend([rings] if kind == "Polygon" else rings)
    return shapes[0] if len(shapes) == 1 else {"type": "MultiPolygon", "coordinates": parts}


def _geometries(found: Any) -> Iterator[dict[str, Any]]:
    if not isinstance(found, dict):
        return
    kind = found.get("type")
    if kind in ("FeatureCollection", "GeometryCollection"):
        members = found.get("features" if kind == "FeatureCollection" else "geometries")
        for member in members if isinstance(members, list) else []:
            yield from _geometries(member)
    elif kind == "Feature":
        yield from _geometries(found.get("geometry"))
    else:
        yield {"type": kind, "coordinates": found.get("coordinates")}


def _only_numbers(value: Any) -> bool:
    """Return whether nested lists hold nothing but numbers that a coordinate may be."""
    if isinstance(value, list):
        return all(map(_only_numbers, value))
    # Heights may be large; anything beyond a million metres is no height, and NaN is no number.
    return isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < 1e6


class BoundaryField(forms.CharField):
    """A boundary as pasted GeoJSON."""

    widget = forms.Textarea

    def prepare_value(self, value: Any) -> Any:
        return json.dumps(value) if isinstance(value, dict) else value

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value)
        return read_boundary(text) if text else None


def text_of_file(chosen: UploadedFile[bytes]) -> tuple[str, str]:
    """Return the GeoJSON text of a boundary file, and why there is none."""
    if not chosen.size or chosen.size > MAX_BYTES:
        return "", _no_text(chosen)
    chosen.seek(0)
    raw = chosen.read()
    try:
        if not raw.startswith(ZIP):
            str(raw, "utf-8")
        return boundary_text(raw), ""
    except UnicodeDecodeError:
        return "", _no_text(chosen)
    except Refused as refusal:
        return "", f"{chosen.name}: {refusal}"


def _no_text(chosen: UploadedFile[bytes]) -> str:
    return _(
        "%(name)s has %(bytes)s bytes; a text file of at most %(most)s, or a zipped shapefile, is "
        "taken."
    ) % {"name": chosen.name, "bytes": chosen.size, "most": MAX_BYTES}


class ShapeField(BoundaryField):
    """A point, line or outline as pasted GeoJSON, or a latitude and a longitude."""

    def to_python(self, value: Any) -> Any:
        text = forms.CharField.to_python(self, value)
        return read_place(text) if text else None


_LATITUDE_LONGITUDE = re.compile(
    r"\s*([+-]?\d{1,2}(?:\.\d+)?)\s*[,;]\s*([+-]?\d{1,3}(?:\.\d+)?)\s*"
)


def read_place(text: str) -> dict[str, Any]:
    """Return the GeoJSON geometry of a place: "47.10, -97.19" is a point, latitude first.

    Raises: ValidationError if it is neither two coordinates nor one shape of GeoJSON.
    """
    pair = _LATITUDE_LONGITUDE.fullmatch(text)
    if pair:
        return {"type": "Point", "coordinates": [float(pair[2]), float(pair[1])]}
    try:
        shapes = list(_geometries(json.loads(text)))
    except (ValueError, RecursionError):
        raise ValidationError(
            _("Write latitude and longitude, such as “47.1034, -97.19”, or paste GeoJSON.")
        ) from None
    if len(shapes) != 1:
        raise ValidationError(
            _("One shape is needed here; this holds %(count)s.") % {"count": len(shapes)}
        )
    if not isinstance(shapes[0]["coordinates"], list) or not _only_numbers(
        shapes[0]["coordinates"]
    ):
        raise ValidationError(_("The coordinates of this shape are no lists of positions."))
    return shapes[0]
