"""What is near a field: distances and bearings, by geographiclib as the oracle."""

from __future__ import annotations

import math

import pytest
from geographiclib.geodesic import Geodesic

from logbook.catalog.nearby import places_near
from tests import factories as make

SQUARE = {
    "type": "Polygon",
    "coordinates": [[[10.0, 50.0], [10.01, 50.0], [10.01, 50.01], [10.0, 50.01], [10.0, 50.0]]],
}


def test_the_nearest_stands_first_with_distance_and_direction(business, other_business):
    for name, longitude in (("far", 10.03), ("near", 10.015), ("too far", 10.2)):
        make.SensitivePlaceFactory(
            business=business,
            name=name,
            shape={"type": "Point", "coordinates": [longitude, 50.005]},
            keep_off=make.q("400 m"),
        )
    make.SensitivePlaceFactory(
        business=other_business, shape={"type": "Point", "coordinates": [10.012, 50.005]}
    )
    found = places_near(business=business, boundary=SQUARE)
    assert [place.name for place in found] == ["near", "far"]
    # The east side runs along a meridian, so the nearest point of it lies due west of the place,
    # but for the bend of the parallel: millimetres here.
    way = Geodesic.WGS84.Inverse(50.005, 10.01, 50.005, 10.015)
    assert found[0].distance_m == pytest.approx(way["s12"], abs=0.01)
    assert found[0].bearing_deg == pytest.approx(90.0, abs=0.05)
    assert [place.too_near for place in found] == [True, False]


@pytest.mark.parametrize("latitude", [0.0, 47.0, -70.0, 85.0])
@pytest.mark.parametrize("bearing", range(0, 360, 45))
def test_the_net_loses_no_place_within_its_distance(business, latitude, bearing):
    side = 0.001
    field = {
        "type": "Polygon",
        "coordinates": [
            [[20, latitude], [20 + side, latitude], [20 + side, latitude + side], [20, latitude]]
        ],
    }
    there = Geodesic.WGS84.Direct(latitude, 20.0, bearing, 2_900.0)
    make.SensitivePlaceFactory(
        business=business, shape={"type": "Point", "coordinates": [there["lon2"], there["lat2"]]}
    )
    assert len(places_near(business=business, boundary=field)) == 1


def test_a_place_whose_distance_to_keep_is_beyond_the_net_is_found(business):
    for name, longitude, keep_off in (("kept far", 10.2, "20 km"), ("out of reach", 11.0, "20 km")):
        make.SensitivePlaceFactory(
            business=business,
            name=name,
            shape={"type": "Point", "coordinates": [longitude, 50.005]},
            keep_off=make.q(keep_off),
        )
    (found,) = places_near(business=business, boundary=SQUARE)
    assert (found.name, found.too_near) == ("kept far", True)


def test_a_field_beside_the_antimeridian_sees_across_it(business):
    field = {
        "type": "Polygon",
        "coordinates": [[[179.99, 10], [180, 10], [180, 10.01], [179.99, 10]]],
    }
    make.SensitivePlaceFactory(
        business=business, shape={"type": "Point", "coordinates": [-179.99, 10.0]}
    )
    (found,) = places_near(business=business, boundary=field)
    way = 6_378_137.0 * math.cos(math.radians(10.0)) * math.radians(0.01)
    assert found.distance_m == pytest.approx(way, rel=0.01)


def test_one_query_however_many_places(business, django_assert_num_queries):
    make.SensitivePlaceFactory.create_batch(
        30, business=business, shape={"type": "Point", "coordinates": [10.011, 50.0]}
    )
    with django_assert_num_queries(1):
        assert len(places_near(business=business, boundary=SQUARE)) == 20
