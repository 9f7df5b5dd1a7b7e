"""Choosing a nozzle through the API: what fits, what does not and why; nothing is kept."""

from __future__ import annotations

import pytest

from tests import factories as make
from tests.logbook.api.conftest import problem_of

WISH = {
    "spacing": "20 in",
    "speed_low": "7 mph",
    "speed_high": "9 mph",
    "carrier_min": "10 gal/ac",
    "carrier_max": "20 gal/ac",
    "wished_carrier": "15 gal/ac",
    "finest_class": "M",
}


def test_a_nozzle_that_meets_the_label_is_found(as_helper, yard, rows):
    before = rows()
    response = as_helper.post("nozzle-choice/", WISH)
    assert response.status_code == 200, response.content
    found = response.json()
    # 15 gal/ac is 140.3 L/ha (NIST SP 811).
    assert found["rate_l_ha"] == pytest.approx(140.31, abs=0.01)
    (fits,) = found["fits"]
    assert (fits["nozzle"], fits["name"]) == (str(yard.nozzle.pk), "Flat fan 11004")
    # 5940 · 0.40 gal/min / (15 gal/ac · 20 in) = 7.92 mph at 40 psi (UF/IFAS WG013). Medium may
    # turn fine above 40 psi by the nozzle's own table, so the window ends there.
    assert fits["pressure_high_kpa"] == pytest.approx(275.790, abs=0.001)
    assert fits["speed_high_km_h"] == pytest.approx(7.92 * 1.609344, abs=0.001)
    assert fits["classes"]
    assert found["fails"] == []
    assert rows() == before


def test_a_nozzle_that_does_not_is_named_with_the_limit(as_helper, yard):
    (fails,) = as_helper.post("nozzle-choice/", {**WISH, "finest_class": "XC"}).json()["fails"]
    assert fails["nozzle"] == str(yard.nozzle.pk)
    assert "not allowed" in fails["limit"]
    assert "kPa" in fails["sentence"]


def test_nozzles_of_another_business_are_not_offered(as_stranger, yard, stranger):
    assert as_stranger.post("nozzle-choice/", WISH).json()["fits"] == []
    mine = make.NozzleModelFactory(business=stranger.business, name="Mine")
    found = as_stranger.post("nozzle-choice/", {**WISH, "finest_class": ""}).json()
    assert [fits["nozzle"] for fits in found["fits"]] == [str(mine.pk)]


def test_a_heavier_mix_needs_more_pressure(as_helper, yard):
    wish = {**WISH, "finest_class": ""}
    water = as_helper.post("nozzle-choice/", wish).json()["fits"][0]
    heavy = as_helper.post("nozzle-choice/", {**wish, "density": "1.28 SG"}).json()["fits"][0]
    assert heavy["pressure_low_kpa"] == pytest.approx(1.28 * water["pressure_low_kpa"], rel=1e-9)


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"spacing": None}, "spacing"),
        ({"spacing": "20 mph"}, "spacing"),
        ({"spacing": "-1 in"}, "spacing"),
        ({"speed_high": "5 mph"}, "speed_high"),
        ({"wished_carrier": "30 gal/ac"}, "wished_carrier"),
        ({"carrier_max": "5 gal/ac", "wished_carrier": None}, "carrier_max"),
        ({"finest_class": "M", "coarsest_class": "F"}, "coarsest_class"),
        ({"finest_class": "medium"}, "finest_class"),
        ({"density": "5 SG"}, "density"),
        ({"nozle": 1}, "nozle"),
    ],
)
def test_a_wish_that_cannot_be_is_refused_by_name(as_helper, yard, rows, change, name):
    before = rows()
    errors = problem_of(as_helper.post("nozzle-choice/", {**WISH, **change}), 422)["errors"]
    assert list(errors) == [name]
    assert rows() == before
