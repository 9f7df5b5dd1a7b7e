"""Files that would have the server read other files, or ask others, are refused at every door.

An OGR virtual layer (GDAL's manual, "VRT -- Virtual Format") names another source to read; GDAL
knows it by its content, whatever the file is called.
"""

from __future__ import annotations

import io
import socket
import sqlite3
import threading
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from logbook.catalog import models as shelf
from tests import factories as make
from tests.logbook.web.posts import good_post

SECRET = "rows-of-another-tenant"
SQUARE = "POLYGON ((-97.2 47.1, -97.19 47.1, -97.19 47.11, -97.2 47.1))"


class Listener:
    """A server on this machine that counts who knocks."""

    def __init__(self) -> None:
        self.socket = socket.create_server(("127.0.0.1", 0))
        self.port = self.socket.getsockname()[1]
        self.asked = 0
        threading.Thread(target=self._answer, daemon=True).start()

    def _answer(self) -> None:
        while True:
            try:
                caller, _address = self.socket.accept()
            except OSError:
                return
            self.asked += 1
            caller.close()


@pytest.fixture
def listener() -> Iterator[Listener]:
    made = Listener()
    yield made
    made.socket.close()


@pytest.fixture(params=["file", "database", "address"])
def target(request: Any, tmp_path: Path, listener: Listener) -> str:
    """What the hostile file would read."""
    if request.param == "file":
        path = tmp_path / "canary.csv"
        path.write_text(f'name,customer,place,shape\n{SECRET},A,US-ND,"{SQUARE}"\n')
        return str(path)
    if request.param == "database":
        path = tmp_path / "canary.sqlite3"
        with sqlite3.connect(path) as made:
            made.execute("CREATE TABLE canary (name TEXT, customer TEXT, place TEXT, shape TEXT)")
            made.execute("INSERT INTO canary VALUES (?, 'A', 'US-ND', ?)", [SECRET, SQUARE])
        return str(path)
    return f"/vsicurl/http://127.0.0.1:{listener.port}/canary.csv"


def virtual_layer(target: str) -> bytes:
    return (
        # The word "encoding" far from the beginning, where it would be taken for the XML's own.
        f'<OGRVRTDataSource>{" " * 300}<OGRVRTLayer name="canary">'
        f"<SrcDataSource>{target}</SrcDataSource><SrcLayer>canary</SrcLayer>"
        '<GeometryType>wkbPolygon</GeometryType><GeometryField encoding="WKT" field="shape"/>'
        "</OGRVRTLayer></OGRVRTDataSource>"
    ).encode()


def zipped(definition: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for ending in (".shp", ".shx", ".dbf"):
            packed.writestr(f"fields{ending}", definition)
        packed.writestr(
            "fields.prj",
            'GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137,298.257223563]],'
            'PRIMEM["Greenwich",0],UNIT["Degree",0.0174532925199433]]',
        )
    return out.getvalue()


VARIANTS = {
    "a comment": ("fields.kml", lambda definition: b"<!-- kml -->" + definition),
    "behind a root": ("fields.kml", lambda definition: b"<kml></kml>" + definition),
    "inside a root": ("fields.kml", lambda definition: b"<kml>" + definition + b"</kml>"),
    "a zip": ("fields.zip", zipped),
}


@pytest.mark.parametrize("variant", VARIANTS)
def test_a_virtual_layer_is_refused_by_the_sheet_of_fields(
    browser: Client, business: Any, target: str, listener: Listener, variant: str
) -> None:
    make.CustomerFactory(business=business, name="A")
    name, packed = VARIANTS[variant]
    chosen = SimpleUploadedFile(name, packed(virtual_layer(target)))
    answer = browser.post(reverse("sheets-look", args=["fields"]), {"file": chosen})
    b"".join(answer.streaming_content)
    address = answer["Refresh"].partition("url=")[2]
    page = browser.get(address).content.decode()
    b"".join(browser.post(f"{address}write/").streaming_content)
    assert list(shelf.Field.objects.values_list("name", flat=True)) == []
    assert SECRET not in page
    assert listener.asked == 0
    assert f"{name}: " in page
    assert "Boundaries are read from GeoJSON, KML and zipped shapefiles." in page


@pytest.mark.parametrize("target", ["file", "address"], indirect=True)
@pytest.mark.parametrize("variant", VARIANTS)
def test_a_virtual_layer_is_refused_by_the_form_of_a_field(
    browser: Client, yard: Any, target: str, listener: Listener, variant: str
) -> None:
    before = shelf.Field.objects.count()
    name, packed = VARIANTS[variant]
    chosen = SimpleUploadedFile(name, packed(virtual_layer(target)))
    post = {**good_post("fields", yard), "boundary": "", "boundary_file": chosen}
    answer = browser.post("/shelf/fields/new/", post)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert SECRET not in page
    assert listener.asked == 0
    assert f"{name}: " in page
    assert "Boundaries are read from GeoJSON, KML and zipped shapefiles." in page
    assert shelf.Field.objects.count() == before
