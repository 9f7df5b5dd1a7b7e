"""One cause, one finding: the mistakes that people make, and the entry that each finding stands on.

The clean record delivers 15 gal/ac at 6.0 mph and 42 psi on 125 ac, 1875 gal, 2750 fl oz.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from logbook.checks.causes import LIKELY_CAUSE, Recent, told
from logbook.checks.core import Finding, Report, Severity, run_all
from logbook.checks.registry import CHECKS
from logbook.facts.record import Snapshot
from tests.logbook.checks.build import given, q

SETTINGS_ALONE: dict[str, Any] = {
    "loads": (),
    "record__mix_used": q("not measured: no marks"),
    "record__distance": q("not measured: no counter"),
    "products__0__total_used": q("not measured: not weighed"),
    "products__1__total_used": q("not measured: not weighed"),
}
NO_DISTANCE: dict[str, Any] = {"record__distance": q("not measured: no counter")}
BEFORE = (Recent(speed=q("6.0 mph"), pressure=q("42 psi")),)
GRAVE = (Severity.BREACH, Severity.MISMATCH)


def report(s: Snapshot, recent: Sequence[Recent] = ()) -> Report:
    return told(s, run_all(s, CHECKS), recent=lambda: recent)


def lead(recent: Sequence[Recent] = (), /, **changes: Any) -> Finding:
    """Return the only grave finding of the record."""
    found = [one for one in report(given(**changes), recent).findings if one.severity in GRAVE]
    (one,) = found
    return one


def test_a_record_that_agrees_is_left_alone_and_asks_for_no_other() -> None:
    s = given()
    before = run_all(s, CHECKS)

    def asked() -> list[Recent]:
        raise AssertionError("The jobs before were asked for.")

    assert told(s, before, recent=asked) is before


@pytest.mark.parametrize(
    ("changes", "about", "sentence"),
    [
        # Two digits changed places.
        (
            {"record__treated_area": q("152 ac")},
            "treated_area",
            "Treated area, entered 152 ac, likely 125 ac: two digits changed places. ",
        ),
        (
            {"record__distance": q("12.7 mi")},
            "distance",
            "Distance driven with the boom on, entered 12.7 mi, likely 17.2 mi: two digits ",
        ),
        (
            {**NO_DISTANCE, "record__mix_used": q("8175 gal"), "loads": ()},
            "mix_used",
            "Spray mix used on this field, entered 8175 gal, likely 1875 gal: two digits ",
        ),
        # The wrong unit.
        (
            {"record__pressure": q("2.9 psi")},
            "pressure",
            "Pressure at the gauge, entered 2.9 psi, likely 2.9 bar: the same figures in bar. ",
        ),
        (
            {"record__speed": q("6.0 km/h")},
            "speed",
            "Ground speed, entered 6.0 km/h, likely 6.0 mph: the same figures in mph. ",
        ),
        # The point.
        (
            {"record__pressure": q("420 psi"), **NO_DISTANCE},
            "pressure",
            "Pressure at the gauge, entered 420 psi, likely 42 psi: the point shifted ",
        ),
        # What the loads say.
        (
            {"record__mix_used": q("2400 gal")},
            "mix_used",
            "Spray mix used on this field, entered 2400 gal, likely 1875 gal: what the loads ",
        ),
        (
            {"products__0__total_used": q("3500 fl oz")},
            "products.0.total_used",
            "The total of Fenland 4 EC used, entered 3500 fl oz, likely 2750 fl oz: what the ",
        ),
        # What all evidence makes it: no slip comes to 125 ac.
        (
            {"record__treated_area": q("108 ac"), "record__finished_at": None},
            "treated_area",
            "Treated area, entered 108 ac, likely 125 ac: what the other entries make it. ",
        ),
    ],
)
def test_a_mistake_is_told_at_its_own_box(
    changes: dict[str, Any], about: str, sentence: str
) -> None:
    finding = lead(**changes)
    assert (finding.code, finding.about) == (LIKELY_CAUSE, about)
    assert finding.sentence.startswith(sentence)
    assert finding.leads


def test_psi_for_bar_with_the_settings_alone_folds_every_consequence() -> None:
    finding = lead(**SETTINGS_ALONE, record__pressure=q("2.9 psi"))
    assert (finding.about, finding.severity) == ("pressure", Severity.BREACH)
    codes = {one.code for one in finding.leads}
    assert codes >= {"carrier-against-label", "carrier-against-planned", "nozzle-pressure"}
    assert codes >= {"product-against-label", "product-against-planned", "droplet-class"}
    # The heaviest of what it leads; explained with it.
    assert Severity.BREACH in {one.severity for one in finding.leads}
    assert finding.severity.must_be_explained


def test_a_mistyped_speed_is_named_by_the_jobs_before() -> None:
    # 5.0 for 6.0 mph is no slip of digits or unit; this rig was last driven at 6.0.
    finding = lead(BEFORE, **SETTINGS_ALONE, record__speed=q("5.0 mph"))
    assert finding.about == "speed"
    assert finding.sentence == (
        "Ground speed, entered 5.0 mph, likely 6.0 mph: as on an earlier job of this rig. With it "
        "all that follows agrees."
    )
    assert finding.settle == (
        "Correct ground speed if 6.0 mph is what was read. If 5.0 mph is right, look at what "
        "follows from it."
    )


def test_where_nothing_settles_it_no_cause_is_named_and_the_carrier_leads() -> None:
    changes = SETTINGS_ALONE | {
        "record__speed": q("5.2 mph"),
        "loads": given().loads,
        "record__finished_at": None,
    }
    finding = lead(**changes)
    assert (finding.code, finding.about) == ("carrier-against-planned", "planned_carrier")
    assert {(one.code, one.about) for one in finding.leads} == {
        ("product-against-planned", "products.0.planned_rate")
    }


def test_too_strong_a_mix_is_not_put_down_to_the_carrier() -> None:
    strong = SETTINGS_ALONE | {
        "loads": given().loads,
        "loads__0__parts__0__amount": q("1900 fl oz"),
        "loads__1__parts__0__amount": q("1680 fl oz"),
        "record__speed": q("5.2 mph"),
        "record__finished_at": None,
    }
    codes = {one.about for one in report(given(**strong)).findings if one.severity in GRAVE}
    assert codes == {"planned_carrier", "products.0.planned_rate"}


def test_a_contradiction_leads_the_rates_that_rest_on_it() -> None:
    # Of two estimates none can be named, so no rate can be judged on its own.
    two = SETTINGS_ALONE | {"record__mix_used": q("2300 gal"), "record__speed": q("5.2 mph")}
    two |= {"record__treated_area": q("110 ac"), "record__finished_at": None}
    finding = lead(**two)
    assert finding.code == "mix-used"
    assert "carrier-against-planned" in {one.code for one in finding.leads}


def test_a_plan_outside_the_label_stays_its_own_breach() -> None:
    found = report(given(products__0__planned_rate=q("33 fl oz/ac"))).findings
    (breach,) = [one for one in found if one.severity is Severity.BREACH]
    assert (breach.code, breach.about, breach.leads) == (
        "planned-rate",
        "products.0.planned_rate",
        (),
    )


def test_what_is_said_to_settle_it_settles_it() -> None:
    wrong = given(record__speed=q("6.0 km/h"))
    (finding,) = report(wrong).findings
    assert "6.0 mph" in finding.settle
    assert report(given(record__speed=q("6.0 mph"))).findings == ()


def test_a_shifted_point_in_a_product_total_is_named_by_what_the_loads_held() -> None:
    # The loads held 2750 fl oz of it.
    found = lead(**NO_DISTANCE, products__0__total_used=q("275 fl oz"))
    assert (found.code, found.about) == (LIKELY_CAUSE, "products.0.total_used")
    assert "entered 275 fl oz, likely 2750 fl oz: what the loads held" in found.sentence


def test_without_a_rig_nothing_is_tried() -> None:
    assert all(one.code != LIKELY_CAUSE for one in report(given(rig=None)).findings)
