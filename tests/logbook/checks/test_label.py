"""The label as data: edition, planned rates, boom, adjuvants; silent where it is silent."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from logbook.checks import label, weather
from logbook.checks.core import Check, Severity
from logbook.checks.label import NO_LABEL, SILENT
from logbook.checks.registry import CHECKS
from tests.logbook.checks.build import (
    clean,
    given,
    herbicide,
    lack,
    look,
    q,
    state,
    surfactant,
    the,
)
from tests.logbook.checks.build import label as a_label

LABEL = "products__0__label"


def with_second(**limits: Any) -> dict[str, Any]:
    """Return the change that gives the second product a label with these limits."""
    return {"products__1__label": a_label(edition="2026-02", **limits)}


# --- edition ---------------------------------------------------------------------------------


def test_an_edition_in_force_on_the_day_agrees() -> None:
    assert look(label.label_edition) == []
    assert look(label.label_edition, **{f"{LABEL}__in_force_from": date(2026, 6, 10)}) == []


def test_an_edition_no_longer_in_force_is_a_breach() -> None:
    finding = the(label.label_edition, **{f"{LABEL}__in_force_to": date(2026, 6, 9)})
    assert finding.severity is Severity.BREACH
    assert finding.about == "products.0.label"
    assert finding.sentence == (
        "Fenland 4 EC was used on 2026-06-10; label edition 2025-01 is in force from 2025-01-01 "
        "to 2026-06-09."
    )


def test_an_edition_not_yet_in_force_is_a_breach() -> None:
    edition = {f"{LABEL}__in_force_from": date(2026, 6, 11), f"{LABEL}__in_force_to": None}
    assert "in force from 2026-06-11 on." in the(label.label_edition, **edition).sentence


def test_a_product_without_its_label_is_missing_it_but_an_adjuvant_is_not() -> None:
    lacking = lack(label.label_edition, products__0__label=None)
    assert lacking.needs == {"products.0.label": "the label edition of Fenland 4 EC"}
    assert clean().products[1].label is None


def test_the_edition_check_needs_a_day() -> None:
    undated = {"record__started_at": None, "record__finished_at": None}
    assert lack(label.label_edition, **undated).needs == {"started_at": "start of the spraying"}


# --- planned rate ----------------------------------------------------------------------------


@pytest.mark.parametrize("rate", ["16 fl oz/ac", "32 fl oz/ac", "1 qt/ac", "2 pt/ac"])
def test_a_planned_rate_on_the_limit_agrees(rate: str) -> None:
    # 1 qt = 2 pt = 32 fl oz, exact (NIST Handbook 44).
    assert look(label.planned_rate, products__0__planned_rate=q(rate)) == []


def test_a_plan_a_rounding_below_the_label_is_told_apart_from_it() -> None:
    # 1.5 US pt/ac = 1.5 x 0.473176473 L / 0.40468564224 ha = 1.7539 L/ha (NIST SP 811, app. B).
    finding = the(
        label.planned_rate,
        products__0__planned_rate=q("1.75 L/ha"),
        products__0__label__rate_min=q("1.5 pt/ac"),
        products__0__label__rate_max=q("1.5 pt/ac"),
    )
    assert "planned at 1.75 L/ha, label asks 1.5 pt/ac (1.754 L/ha)" in finding.sentence


def test_a_planned_rate_above_the_label_is_a_breach() -> None:
    finding = the(label.planned_rate, products__0__planned_rate=q("33 fl oz/ac"))
    assert finding.severity is Severity.BREACH
    assert finding.about == "products.0.planned_rate"
    assert finding.sentence == (
        "Fenland 4 EC is planned at 33 fl oz/ac, label asks 16 to 32 fl oz/ac."
    )
    assert finding.basis == "Label of Fenland 4 EC, edition 2025-01"


def test_a_planned_rate_below_the_label_is_a_breach() -> None:
    only_least = {f"{LABEL}__rate_max": None, "products__0__planned_rate": q("15 fl oz/ac")}
    assert "label asks at least 16 fl oz/ac" in the(label.planned_rate, **only_least).sentence


def test_rates_of_two_kinds_are_not_compared() -> None:
    finding = the(label.planned_rate, products__0__planned_rate=q("1 % v/v"))
    assert (finding.severity, finding.undecided) == (Severity.CAUTION, True)
    assert finding.sentence == (
        "Fenland 4 EC is planned at 1 % v/v, but its label limits the rate in fl oz/ac; whether "
        "the plan is within the label cannot be decided."
    )
    assert finding.settle.startswith("Enter the planned rate in fl oz/ac")


def test_a_mass_planned_against_a_volume_on_the_label_is_a_mismatch() -> None:
    finding = the(label.planned_rate, products__0__planned_rate=q("20 lb/ac"))
    assert (finding.severity, finding.undecided) == (Severity.MISMATCH, True)


def test_a_label_in_another_unit_is_repeated_in_that_of_the_plan() -> None:
    # 16 and 32 fl oz/ac are 1.16924 and 2.33849 L/ha (1 gal/ac = 128 fl oz/ac = 9.35396 L/ha).
    finding = the(label.planned_rate, products__0__planned_rate=q("3 L/ha"))
    assert "label asks 16 to 32 fl oz/ac (1.17 to 2.34 L/ha)." in finding.sentence


def test_a_blank_planned_rate_is_missing_and_a_word_is_quoted() -> None:
    assert lack(label.planned_rate, products__0__planned_rate=None).needs == {
        "products.0.planned_rate": "the planned rate of Fenland 4 EC"
    }
    words = lack(label.planned_rate, products__0__planned_rate=q("not measured: spot spray"))
    assert words.why == "the planned rate of Fenland 4 EC was not measured: spot spray"


# --- planned carrier -------------------------------------------------------------------------


def test_a_planned_carrier_within_the_label_agrees() -> None:
    assert look(label.planned_carrier) == []


def test_a_planned_carrier_above_the_label_is_a_breach() -> None:
    finding = the(label.planned_carrier, record__planned_carrier=q("22 gal/ac"))
    assert finding.sentence == "Planned carrier 22 gal/ac, label asks 10 to 20 gal/ac."
    assert finding.severity is Severity.BREACH


def test_the_strictest_of_two_labels_counts() -> None:
    finding = the(label.planned_carrier, **with_second(carrier_min=q("17 gal/ac")))
    assert finding.sentence == "Planned carrier 15.0 gal/ac, label asks 17 to 20 gal/ac."
    assert finding.basis == (
        "Label of Wetting 90, edition 2026-02 and Label of Fenland 4 EC, edition 2025-01"
    )


def test_labels_that_leave_no_carrier_volume_are_a_breach_of_the_mix() -> None:
    finding = the(label.planned_carrier, **with_second(carrier_min=q("30 gal/ac")))
    assert finding.sentence == (
        "No carrier volume suits all labels: one asks at least 30 gal/ac, another at most "
        "20 gal/ac."
    )


def test_a_blank_planned_carrier_is_missing() -> None:
    assert lack(label.planned_carrier, record__planned_carrier=None).needs == {
        "planned_carrier": "planned carrier"
    }


# --- boom height -----------------------------------------------------------------------------


def test_a_boom_at_the_limit_agrees() -> None:
    assert look(label.boom_height, record__boom_height=q("2 ft")) == []


def test_a_boom_above_the_limit_is_a_breach() -> None:
    # The pattern of the 2019 dicamba labels: boom 24 in or lower.
    finding = the(label.boom_height, record__boom_height=q("30 in"))
    assert finding.severity is Severity.BREACH
    assert finding.sentence == "Boom height 30 in above the target, label asks at most 24 in."
    assert finding.settle == "Correct the entry if it was misread."
    ahead = the(label.boom_height, record__boom_height=q("30 in"), record__finished_at=None)
    assert ahead.settle.startswith("Lower the boom to 24 in or less")


def test_a_boom_height_not_measured_is_quoted() -> None:
    words = lack(label.boom_height, record__boom_height=q("not measured: sensor broken"))
    assert words.why == "boom height above the target was not measured: sensor broken"


# --- adjuvants -------------------------------------------------------------------------------


def test_the_adjuvant_asked_for_is_in_the_mix() -> None:
    assert look(label.required_adjuvants) == []


def test_an_adjuvant_that_lacks_is_a_breach() -> None:
    finding = the(label.required_adjuvants, products=(herbicide(),))
    assert finding.severity is Severity.BREACH
    assert finding.sentence == (
        "The label of Fenland 4 EC asks for nonionic surfactant; no product of this record is one."
    )


def test_the_required_adjuvant_check_needs_products() -> None:
    assert "products" in lack(label.required_adjuvants, products=()).needs


def test_a_mix_without_forbidden_adjuvants_agrees() -> None:
    assert look(label.forbidden_adjuvants) == []


def test_a_forbidden_adjuvant_is_a_breach_beside_that_adjuvant() -> None:
    functions = ("nonionic surfactant", "ammonium sulfate")
    finding = the(label.forbidden_adjuvants, products__1__adjuvant_functions=functions)
    assert finding.about == "products.1"
    assert finding.sentence == (
        "Wetting 90 counts as ammonium sulfate, which the label of Fenland 4 EC forbids in the mix."
    )


def test_the_forbidden_adjuvant_check_needs_the_label() -> None:
    assert "products.0.label" in lack(label.forbidden_adjuvants, products__0__label=None).needs


REDUCER = {"products__1__adjuvant_functions": ("nonionic surfactant", "drift reducer")}


def test_no_drift_reducer_agrees_with_any_nozzle() -> None:
    assert look(label.drift_reducer) == []
    assert look(label.drift_reducer, nozzle=None) == []


def test_a_drift_reducer_with_air_induction_is_a_breach_where_the_label_forbids_it() -> None:
    finding = the(label.drift_reducer, **REDUCER)
    assert finding.severity is Severity.BREACH
    assert finding.sentence == (
        "Wetting 90 is a drift reducer and AI 110-03 draws in air; the label of Fenland 4 EC "
        "forbids them together."
    )


@pytest.mark.parametrize(
    "change",
    [
        {"nozzle__kind": "pre-orifice flat fan"},
        {f"{LABEL}__no_drift_reducer_with_air_induction": False},
    ],
)
def test_a_drift_reducer_is_allowed_with_other_nozzles_or_labels(change: dict[str, Any]) -> None:
    assert look(label.drift_reducer, **REDUCER, **change) == []


def test_the_drift_reducer_check_needs_the_nozzle() -> None:
    assert lack(label.drift_reducer, nozzle=None, **REDUCER).needs == {"nozzle": "nozzles"}


# --- silence ---------------------------------------------------------------------------------


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.id)
def test_a_silent_label_gives_nothing_to_find(check: Check) -> None:
    silent = given(products=(herbicide(), surfactant()), products__0__label=a_label())
    assert state(check, silent) in (("looked and agreed", ""), ("nothing to look at", SILENT))


def test_what_a_silent_label_leaves_nothing_to_look_at_is_not_said_to_agree() -> None:
    silent = given(products__0__label=a_label())
    assert {one.id for one in CHECKS if state(one, silent)[0] == "nothing to look at"} == {
        *("carrier-against-label", "product-against-label", "droplet-class"),
        *("planned-rate", "planned-carrier", "boom-height", "drift-reducer"),
        *("required-adjuvants", "forbidden-adjuvants", "licence-category"),
        *("wind-window", "wind-height", "temperature-limits", "time-of-day"),
    }


def test_no_label_on_the_shelf_is_told_from_a_silent_one() -> None:
    fertilizer = given(products=(surfactant(),))
    assert state(label.planned_rate, fertilizer) == ("nothing to look at", NO_LABEL)
    assert state(label.label_edition, fertilizer) == ("nothing to look at", NO_LABEL)
    # The signs of an inversion are looked at whatever a label says of them.
    assert state(weather.inversion, fertilizer) == ("looked and agreed", "")
