"""Boundaries from and to GeoJSON, KML and shapefiles; areas compared by geographiclib."""

from __future__ import annotations

import io
import json
import zipfile
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from pyogrio.raw import write as gdal_write
from pyproj import Transformer

from logbook.catalog import models as shelf
from logbook.catalog.sheets import jobs, shapes
from logbook.errors.exceptions import Refused
from tests import factories as make

HOLED = {
    "type": "MultiPolygon",
    "coordinates": [
        [
            [[-97.2, 47.1], [-97.19, 47.1], [-97.19, 47.11], [-97.2, 47.11], [-97.2, 47.1]],
            [[-97.198, 47.102], [-97.198, 47.104], [-97.196, 47.104], [-97.198, 47.102]],
        ],
        [[[-97.18, 47.1], [-97.17, 47.1], [-97.17, 47.11], [-97.18, 47.1]]],
    ],
}


def by_geographiclib(shape) -> float:
    """Return the area by another implementation of Karney (2013). [ha]"""
    total = 0.0
    parts = shape["coordinates"] if shape["type"] == "MultiPolygon" else [shape["coordinates"]]
    for polygon in parts:
        for place, ring in enumerate(polygon):
            area = Geodesic.WGS84.Polygon()
            for longitude, latitude in ring[:-1]:
                area.AddPoint(latitude, longitude)
            total += (1 if place == 0 else -1) * abs(area.Compute()[2])
    return total / 10_000


def shapefile(shape, crs="EPSG:4326", *, folder, without=(), **told) -> bytes:
    """Return a zipped shapefile written by GDAL itself."""
    turned = shapely.from_geojson(json.dumps(shape))
    if crs != "EPSG:4326":
        there = Transformer.from_crs("EPSG:4326", crs, always_xy=True)
        turned = shapely.transform(turned, there.transform, interleaved=False)
    told = told or {"name": "North"}
    gdal_write(
        str(folder / "fields.shp"),
        geometry=np.array([shapely.to_wkb(turned)], dtype=object),
        field_data=[np.array([value], dtype=object) for value in told.values()],
        fields=np.array(list(told), dtype=object),
        geometry_type=turned.geom_type,
        crs=crs,
        driver="ESRI Shapefile",
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", 8) as packed:
        for part in (".shp", ".shx", ".dbf", ".prj"):
            if part not in without:
                packed.write(folder / f"fields{part}", f"a folder/fields{part}")
    return out.getvalue()


def read_back(raw):
    """Return attributes and geometry of each shape of a file."""
    return [(told, json.loads(shape)) for told, shape in shapes.read_shapes(raw)]


@pytest.fixture
def field(business):
    return make.FieldFactory(business=business, name="Näh & <Süd>", boundary=HOLED)


@pytest.mark.parametrize("ending", shapes.FORMATS)
def test_what_is_written_is_read_back_with_holes_parts_and_names(field, ending):
    raw = shapes.write_shapes([field], ending=ending)
    ((told, shape),) = read_back(raw)
    same = shapely.equals_exact(
        shapely.normalize(shapely.from_geojson(json.dumps(shape))),
        shapely.normalize(shapely.from_geojson(json.dumps(HOLED))),
        tolerance=1e-9,
    )
    assert same
    lower = {key.lower(): value for key, value in told.items()}
    assert lower["name"] == "Näh & <Süd>"
    assert lower["time_zone"] == field.time_zone


@pytest.mark.parametrize("crs", ["EPSG:26914", "EPSG:3857", "EPSG:2265"])
def test_a_shapefile_is_brought_to_wgs_84_by_its_prj(tmp_path, crs):
    # UTM 14N on NAD 83, the web's Mercator, and the State Plane of North Dakota in feet.
    ((_told, shape),) = read_back(shapefile(make.L_SHAPE, crs, folder=tmp_path))
    assert by_geographiclib(shape) == pytest.approx(by_geographiclib(make.L_SHAPE), rel=1e-6)
    # The way there and the way back are one formula: PROJ gives a point back to less than 0.1 mm
    # (its manual's tests of these methods, from memory), which is 1e-9 of a degree; a datum that is
    # passed over or taken for another is metres.
    same = shapely.equals_exact(
        shapely.normalize(shapely.from_geojson(json.dumps(shape))),
        shapely.normalize(shapely.from_geojson(json.dumps(make.L_SHAPE))),
        tolerance=2e-9,
    )
    assert same


def test_a_shapefile_in_the_webs_mercator_is_read_as_its_formula_says(tmp_path, monkeypatch):
    """Computed here, not by the library that reads it: x = R·λ, y = R·ln tan(π/4 + φ/2).

    EPSG Guidance Note 7-2, method 1024, with R = 6378137 m: from memory.
    """

    def there(longitude, latitude):
        x, y = np.radians(longitude), np.radians(latitude)
        return 6378137.0 * x, 6378137.0 * np.log(np.tan(np.pi / 4 + y / 2))

    computed = SimpleNamespace(from_crs=lambda *_crs, **_how: SimpleNamespace(transform=there))
    monkeypatch.setitem(globals(), "Transformer", computed)
    ((_told, shape),) = read_back(shapefile(make.L_SHAPE, "EPSG:3857", folder=tmp_path))
    assert sorted(shape["coordinates"][0]) == pytest.approx(
        np.array(sorted(make.L_SHAPE["coordinates"][0])), abs=2e-9
    )


def test_a_datum_that_is_not_known_is_refused_not_guessed(tmp_path):
    # PROJ's manual, "ballpark transformation": it passes over the datum, here of Clarke's
    # ellipsoid of 1866, and may be off by a hundred metres and more.
    raw = shapefile(make.L_SHAPE, "+proj=longlat +ellps=clrk66", folder=tmp_path)
    with pytest.raises(Refused, match=r"No way is known from the reference system of the \.prj"):
        shapes.read_shapes(raw)


KML = (
    '<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>'
    "<Placemark><name>North</name><Polygon><outerBoundaryIs><LinearRing><coordinates>"
    "-97.2,47.1,0 -97.19,47.1,0 -97.19,47.11,0 -97.2,47.1,0"
    "</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></Document></kml>"
)


def test_a_kml_written_by_hand_is_read():
    ((told, shape),) = read_back(KML.encode())
    assert {key.lower(): value for key, value in told.items()}["name"] == "North"
    assert by_geographiclib(shape) == pytest.approx(42.2, abs=0.1)  # half of 759 m × 1112 m


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"not a shape", "no GeoJSON"),
        (b"{}", "no Feature"),
        (b'{"type": "FeatureCollection", "features": []}', "no shape"),
        (b"<kml><broken", "damaged"),
        (b"<kml/><more/>", "damaged"),
        (b"<other/>", "no KML"),
        (b'<!DOCTYPE kml [<!ENTITY a "b">]>' + KML.encode(), "entities"),
        (KML.replace("<Document>", "<Document><NetworkLink/>").encode(), "another file"),
        (KML.replace("<Document>", "<Document>" + "<Placemark/>" * 5_000).encode(), "5,001 shapes"),
        (KML.replace("<name>", "<x/>" * 500_000 + "<name>").encode(), "more values"),
        (KML.replace("<name>", f"<!-- {'x' * 2_000_000} --><name>").encode(), "too long"),
        (
            KML.replace("-97.2,47.1,0", "-97.2,47.1,0 " * 500_001, 1).encode(),
            "more than 500,000 corners",
        ),
        (b'{"type": "Feature", "properties": {"a": [' + b"[]," * 500_001 + b"1]}}", "more values"),
        (KML.replace("UTF-8", "UTF-16").encode("utf-16"), "UTF-8|no GeoJSON"),
        (b"PK\x03\x04 cut off", "damaged"),
        (
            b'{"type":"Feature","geometry":null,"crs":{"properties":{"name":"EPSG:26914"}}}',
            "WGS 84 alone",
        ),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_is_no_file_of_shapes_is_refused(raw, words):
    with pytest.raises(Refused, match=words):
        list(shapes.read_shapes(raw))


@pytest.mark.parametrize("without", [".prj", ".shx", ".dbf"])
def test_a_shapefile_with_a_part_missing_is_refused_not_guessed(tmp_path, without):
    with pytest.raises(Refused, match=f"lacks {without}"):
        shapes.read_shapes(shapefile(make.L_SHAPE, folder=tmp_path, without=[without]))


def with_part(raw, ending, content):
    """Return the zipped shapefile with one part written otherwise."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(raw)) as old, zipfile.ZipFile(out, "w", 8) as fresh:
        for entry in old.namelist():
            fresh.writestr(entry, content if entry.endswith(ending) else old.read(entry))
    return out.getvalue()


@pytest.mark.parametrize(
    ("ending", "content", "words"),
    [
        (".dbf", b"\x03" + bytes(50_000_000), "Unpacked, the file has more than 40,000,000"),
        (".shp", b"SQLite format 3\0", r"The \.shp in the zip is no part of a shapefile"),
        (".dbf", b"<OGRVRTDataSource/>", r"The \.dbf in the zip is no part of a shapefile"),
        # A kilobyte of index that has one shape of the file read five thousand times.
        (
            ".shx",
            b"\0\0\x27\x0a" + bytes(96) + b"\0\0\0\x32\0\0\0\x44" * 5_000,
            r"The \.shx of the shapefile does not belong",
        ),
        (".shx", b"\0\0\x27\x0a" + bytes(96) + bytes(8 * 5_001), "holds 5,001 shapes"),
    ],
    ids=["bomb", "shp", "dbf", "index", "many"],
)
def test_a_part_that_is_none_of_a_shapefile_or_too_large_is_refused(
    tmp_path, ending, content, words
):
    raw = with_part(shapefile(make.L_SHAPE, folder=tmp_path), ending, content)
    with pytest.raises(Refused, match=words):
        shapes.read_shapes(raw)


def test_a_zip_of_very_many_files_and_a_zip_in_a_zip_are_refused(tmp_path):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("inner.zip", shapefile(make.L_SHAPE, folder=tmp_path))
    with pytest.raises(Refused, match="The zip holds 0 shapefiles"):
        shapes.read_shapes(out.getvalue())
    with zipfile.ZipFile(out, "a") as packed:
        for number in range(1_000):
            packed.writestr(f"{number}.shp", b"")
    with pytest.raises(Refused, match=r"The zip holds 1,\d+ files"):
        shapes.read_shapes(out.getvalue())


def test_a_name_in_a_zip_leads_nowhere(tmp_path):
    raw = shapefile(make.L_SHAPE, folder=tmp_path)
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(raw)) as old, zipfile.ZipFile(out, "w") as fresh:
        for entry in old.namelist():
            fresh.writestr(f"../../..{tmp_path}/out{entry[-4:]}", old.read(entry))
    ((told, _shape),) = read_back(out.getvalue())
    assert told == {"name": "North"}
    assert not list(tmp_path.glob("out*"))


def brought(owner, now, raw, **options):
    file = jobs.keep_file(
        business=owner.business,
        user=owner.user,
        kind="fields",
        name="fields.zip",
        content=raw,
        options=options,
        now=now,
    )
    list(jobs.look_at(file=file))
    file.refresh_from_db()
    return file


def test_many_fields_come_from_one_file_by_its_attributes(owner, now, business, tmp_path):
    make.CustomerFactory(business=business, name="Flat Creek")
    raw = shapefile(make.L_SHAPE, folder=tmp_path, FARM="Flat Creek", PLOT="North", SOIL="loam")
    file = brought(owner, now, raw, name_from="plot", customer_from="farm", place="US-ND")
    assert file.report["problems"] == []
    assert file.report["passed_over"] == ["SOIL"]
    list(jobs.write(file=file, change=False))
    field = shelf.Field.objects.get(business=business)
    assert (field.name, field.customer.name, field.place) == ("North", "Flat Creek", "US-ND")
    assert field.area_ha == pytest.approx(by_geographiclib(make.L_SHAPE), rel=1e-6)


def test_a_boundary_of_a_field_that_is_there_is_a_change_that_is_asked_for(
    owner, now, business, tmp_path
):
    customer = make.CustomerFactory(business=business, name="Flat Creek")
    field = make.FieldFactory(business=business, customer=customer, name="North", boundary=None)
    raw = shapefile(make.L_SHAPE, folder=tmp_path)
    file = brought(owner, now, raw, customer="Flat Creek")
    assert (file.report["new"], file.report["changing"]) == (0, 1)
    list(jobs.write(file=file, change=True))
    field.refresh_from_db()
    assert field.area_ha == pytest.approx(by_geographiclib(make.L_SHAPE), rel=1e-6)


def test_an_attribute_that_is_not_there_and_a_shape_that_is_no_field_are_named(
    owner, now, business, tmp_path
):
    make.CustomerFactory(business=business, name="Flat Creek")
    raw = shapefile(make.L_SHAPE, folder=tmp_path)
    assert "there are: name" in brought(owner, now, raw, name_from="plot").report["refused"]
    bow = {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "properties": {"name": "Bow", "customer": "Flat Creek", "place": "US-ND"},
                "geometry": {
                    "type": "Polygon",
                    "coordinates": [[[-97.2, 47.1], [-97.1, 47.2], [-97.1, 47.1], [-97.2, 47.2],
                                     [-97.2, 47.1]]],
                },
            },
            {
                "type": "Feature",
                "properties": {"name": "Spot", "customer": "Flat Creek", "place": "US-ND"},
                "geometry": {"type": "Point", "coordinates": [-97.2, 47.1]},
            },
        ],
    }  # fmt: skip
    found = brought(owner, now, json.dumps(bow).encode()).report["problems"]
    assert [(one["row"], one["column"]) for one in found] == [(1, "boundary"), (2, "boundary")]
    assert "cross" in found[0]["allowed"]
    assert "Point is no field" in found[1]["allowed"]


def test_fields_without_a_boundary_cannot_be_taken_out(business):
    field = make.FieldFactory(business=business, boundary=None)
    with pytest.raises(Refused, match="No field here has a boundary"):
        shapes.write_shapes([field], ending="kml")
