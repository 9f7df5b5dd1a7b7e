"""The shapes of a file from a stranger: GeoJSON, KML or a zipped shapefile, in WGS 84."""

from __future__ import annotations

from logbook.uploads import read_confined

Shape = tuple[dict[str, str], str | None]
"""Attributes as text, and the GeoJSON geometry as text."""


def read_shapes(raw: bytes) -> list[Shape]:
    """Return the shapes of a GeoJSON, KML or zipped shapefile, in WGS 84.

    Raises: Refused, saying why it cannot be read.
    """
    return [(told, shape) for told, shape in read_confined("shapes", raw)]


def boundary_text(raw: bytes) -> str:
    """Return the shapes of a file as one GeoJSON text, for the form of a field.

    Raises: Refused as `read_shapes`.
    """
    features = ", ".join(
        f'{{"type": "Feature", "properties": {{}}, "geometry": {shape or "null"}}}'
        for _told, shape in read_shapes(raw)
    )
    return f'{{"type": "FeatureCollection", "features": [{features}]}}'
