"""Whether the entries bear each other out: time, area, tank."""

from __future__ import annotations

import pytest

from logbook.checks import evidence
from logbook.checks.core import Severity
from tests.logbook.checks.build import at, lack, look, nothing, q, the

# --- start and end ---------------------------------------------------------------------------


def test_an_end_after_the_start_agrees() -> None:
    assert look(evidence.start_before_end) == []


def test_an_end_before_the_start_is_a_mismatch() -> None:
    finding = the(evidence.start_before_end, record__finished_at=at("8:00"))
    assert finding.severity is Severity.MISMATCH
    assert finding.about == "finished_at"
    assert finding.sentence == (
        "The spraying ends at 08:00 on 2026-06-10, not after its start at 09:00 on 2026-06-10."
    )


def test_start_and_end_are_needed() -> None:
    lacking = lack(evidence.start_before_end, record__started_at=None, record__finished_at=None)
    assert set(lacking.needs) == {"started_at", "finished_at"}


# --- time ------------------------------------------------------------------------------------


def test_a_usual_time_agrees() -> None:
    assert look(evidence.time_taken) == []


def test_too_short_a_time_is_a_mismatch() -> None:
    # 6 mph · 60 ft / 8.25 = 43.6 ac/h: 125 ac take 2 h 52 min with the boom on.
    finding = the(evidence.time_taken, record__finished_at=at("11:00"))
    assert finding.severity is Severity.MISMATCH
    assert finding.about == "finished_at"
    assert finding.sentence == (
        "The spraying took 2 h 00 min; 125 ac at 6.0 mph with a swath of 60.0 ft takes 2 h 52 min "
        "with the boom on, 143 % of the time, more than all."
    )


def test_a_time_just_long_enough_cannot_be_decided() -> None:
    finding = the(evidence.time_taken, record__finished_at=at("11:52"))
    assert (finding.severity, finding.undecided) == (Severity.CAUTION, True)


def test_an_unusually_long_time_is_a_caution() -> None:
    finding = the(evidence.time_taken, record__finished_at=at("18:00"))
    assert (finding.severity, finding.undecided) == (Severity.CAUTION, False)
    assert finding.sentence.endswith("32 % of the time; usual is 50 to 90 %.")


def test_the_time_check_needs_its_facts() -> None:
    lacking = lack(
        evidence.time_taken,
        record__started_at=None,
        record__finished_at=None,
        record__treated_area=None,
        record__speed=None,
    )
    assert set(lacking.needs) == {"started_at", "finished_at", "treated_area", "speed"}
    assert set(lack(evidence.time_taken, rig=None).needs) == {"rig"}
    assert lack(evidence.time_taken, record__finished_at=at("9:00")).why == (
        "the spraying does not end after its start"
    )


# --- area ------------------------------------------------------------------------------------


@pytest.mark.parametrize("area", ["125 ac", "125.12 ac", "126 ac", "60 ac"])
def test_an_area_within_the_field_agrees(area: str) -> None:
    # The L of the field has 506,338.21 m² = 125.119 ac on the ellipsoid (Karney 2013).
    assert look(evidence.treated_area, record__treated_area=q(area)) == []


def test_an_area_larger_than_the_field_is_a_mismatch() -> None:
    finding = the(evidence.treated_area, record__treated_area=q("130 ac"))
    assert finding.severity is Severity.MISMATCH
    assert finding.sentence == "Treated area 130 ac; the field has 125 ac by its boundary."
    assert "Karney 2013" in finding.basis


def test_without_a_boundary_the_planted_size_stands() -> None:
    planted = {"field__area_ha": None, "field__planted_size": q("100 ac")}
    finding = the(evidence.treated_area, **planted)
    assert finding.sentence == "Treated area 125 ac; the field has 100 ac by its planted size."
    assert finding.basis == "Good practice: the entries of a record bear each other out"


def test_bands_treat_their_share_of_the_field() -> None:
    # UMN Extension: 10-in bands on 30-in rows are a third of the field, 41.7 ac.
    banded = {
        "record__pattern": "banded",
        "record__band_width": q("10 in"),
        "record__row_spacing": q("30 in"),
    }
    assert look(evidence.treated_area, record__treated_area=q("41.7 ac"), **banded) == []
    finding = the(evidence.treated_area, **banded)
    assert (
        finding.sentence == "Treated area 125 ac; the field has 41.7 ac in bands by its boundary."
    )


def test_the_area_check_needs_area_and_field() -> None:
    lacking = lack(evidence.treated_area, field=None, record__treated_area=None)
    assert set(lacking.needs) == {"field", "treated_area"}
    sizeless = lack(evidence.treated_area, field__area_ha=None, field__planted_size=None)
    assert sizeless.needs == {"field.planted_size": "the boundary or the planted size of the field"}
    bands = lack(evidence.treated_area, record__pattern="banded", record__band_width=None)
    assert set(bands.needs) == {"band_width"}


# --- tank ----------------------------------------------------------------------------------------


def test_a_full_tank_agrees() -> None:
    assert look(evidence.tank_capacity) == []


def test_a_load_above_the_tank_is_a_mismatch() -> None:
    # Tank marks are right within 2 %; 1100 of 1000 gal is surely more.
    finding = the(evidence.tank_capacity, loads__0__mixed_volume=q("1100 gal"))
    assert finding.severity is Severity.MISMATCH
    assert finding.about == "loads.0.mixed_volume"
    assert finding.sentence == "Load 1 holds 1100 gal; the tank of Big Green holds 1000 gal."


def test_the_tank_check_needs_loads_and_rig() -> None:
    assert set(lack(evidence.tank_capacity, rig=None).needs) == {"rig"}
    assert "loads" in nothing(evidence.tank_capacity, loads=())


# --- the order of the fields from one load -------------------------------------------------------


def test_an_order_in_which_each_field_has_its_place_agrees() -> None:
    assert look(evidence.load_order, loads__0__order=2, loads__0__places_elsewhere=(1, 3)) == []


def test_two_fields_in_one_place_of_the_order_are_a_mismatch() -> None:
    # 4 TAC 7.33(c) lets jobs from one load share a beginning time where their order is shown; the
    # New South Wales EPA's page asks licensed users for the order in which paddocks were treated.
    finding = the(evidence.load_order, loads__0__order=2, loads__0__places_elsewhere=(1, 2))
    assert (finding.severity, finding.about) == (Severity.MISMATCH, "loads.0.order")
    assert finding.sentence == (
        "Load 1: this field is no. 2 in the order, and another field from the same load is no. 2 "
        "too."
    )


def test_the_check_of_the_order_needs_loads() -> None:
    assert "loads" in nothing(evidence.load_order, loads=())
