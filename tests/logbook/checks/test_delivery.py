"""What was delivered: against plan and label, at which pressure and class, by which catch test.

The clean rig gives 0.303 gal/min per nozzle on 20 in, so it delivers 5940 · 0.303 / (v · 20) gal/ac
(UF/IFAS WG013), with U = 4.05 % (JCGM 100; worked out in test_assessment).
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from logbook.checks import delivery
from logbook.checks.core import Severity
from tests.logbook.checks.build import clean, lack, look, q, the
from tests.logbook.checks.build import label as a_label

LABEL = "products__0__label"
GOING_ON: dict[str, Any] = {"record__finished_at": None}


# --- carrier against plan --------------------------------------------------------------------

SETTINGS_ALONE: dict[str, Any] = {
    "loads": (),
    "record__mix_used": q("not measured: no marks"),
    "record__distance": None,
    "products__0__total_used": None,
    "products__1__total_used": None,
}


LOADS: dict[str, Any] = {"loads": clean().loads}


def test_a_carrier_delivered_as_planned_agrees() -> None:
    assert look(delivery.carrier_against_planned) == []


def test_a_carrier_beyond_the_yardstick_is_a_mismatch() -> None:
    # 5940 · 0.303 / (5.0 · 20) = 18.0 gal/ac. By hand, rectangular: catch 1.5 %, gauge ½ · 2/42,
    # speed 0.1/5, spacing 1 % → u 2.10 %, and k 1.93 (no part rules): 18.0/1.0406 … 18.0/0.9594.
    finding = the(delivery.carrier_against_planned, **SETTINGS_ALONE, record__speed=q("5.0 mph"))
    assert finding.severity is Severity.MISMATCH
    assert finding.about == "planned_carrier"
    assert finding.sentence == (
        "Delivered 18.0 gal/ac, planned 15.0 gal/ac, 20.0 % more; at this accuracy between 17.3 "
        "and 18.7."
    )
    assert finding.settle == (
        "6.0 mph would have given 15.0 gal/ac; correct the entry if it was misread."
    )
    assert "does not agree from 10 % off plan" in finding.basis
    assert not finding.undecided


def test_a_carrier_too_low_says_less() -> None:
    # 5940 · 0.303 / (7.5 · 20) = 12.0 gal/ac.
    finding = the(delivery.carrier_against_planned, **SETTINGS_ALONE, record__speed=q("7.5 mph"))
    assert "Delivered 12.0 gal/ac, planned 15.0 gal/ac, 20.0 % less" in finding.sentence
    # 40 psi · (15 / 12)² = 62.5 at the nozzle, and 2 psi · (15 / 12)² more at the gauge, which is
    # read to 2 psi.
    assert finding.settle == (
        "6.0 mph or 66 psi at the gauge would have given 15.0 gal/ac; correct the entry if it was "
        "misread."
    )


def test_while_the_work_goes_on_it_says_what_to_set() -> None:
    finding = the(
        delivery.carrier_against_planned,
        **SETTINGS_ALONE,
        record__speed=q("7.5 mph"),
        **GOING_ON,
    )
    assert finding.settle == "Drive 6.0 mph or set 66 psi at the gauge to deliver 15.0 gal/ac."


def test_what_would_not_settle_it_is_not_offered() -> None:
    # What was used bears the settings out: no other speed or pressure makes 30 gal/ac of it.
    finding = the(delivery.carrier_against_planned, record__planned_carrier=q("30 gal/ac"))
    assert finding.settle == (
        "What was used bears this rate out. If all is right, say what happened."
    )


def test_the_value_already_entered_is_never_offered() -> None:
    # 5940 · 0.303 / (5.41 · 20) = 16.6 gal/ac; a speed read to 1 mph would come back as 6 mph, and
    # at 6 mph entered nothing but another pressure could be said.
    coarse = SETTINGS_ALONE | {"rig__speed_accuracy": q("1 mph"), "record__speed": q("6 mph")}
    finding = the(
        delivery.carrier_against_planned, **coarse, record__planned_carrier=q("13.5 gal/ac")
    )
    assert "6 mph" not in finding.settle


@pytest.mark.parametrize("speed", ["5.5 mph", "5.68 mph", "6.5 mph"])
def test_a_carrier_within_the_yardstick_is_quiet(speed: str) -> None:
    # 16.4, 15.8 and 13.8 gal/ac: 9.1 and 5.6 % more, 7.7 % less than 15.
    assert look(delivery.carrier_against_planned, **SETTINGS_ALONE, record__speed=q(speed)) == []


def test_at_a_coarse_accuracy_nothing_is_marked_but_what_is_off() -> None:
    coarse = SETTINGS_ALONE | {"rig__gauge_accuracy": q("12 psi")}
    assert look(delivery.carrier_against_planned, **coarse) == []
    # 20 % off plan is off plan, however coarse the gauge.
    assert look(delivery.carrier_against_planned, **coarse, record__speed=q("5.0 mph"))


def test_the_tolerances_of_the_business_decide() -> None:
    wide = {"business__look_again_percent": Decimal(25), "business__disagree_percent": Decimal(30)}
    assert look(delivery.carrier_against_planned, record__speed=q("5.0 mph"), **wide) == []


def test_the_carrier_needs_plan_and_setting() -> None:
    lacking = lack(
        delivery.carrier_against_planned, record__planned_carrier=None, record__speed=None
    )
    assert set(lacking.needs) == {"planned_carrier", "speed"}
    assert set(lack(delivery.carrier_against_planned, record__planned_carrier=None).needs) == {
        "planned_carrier"
    }


# --- carrier against label -------------------------------------------------------------------


def test_a_carrier_within_the_label_agrees() -> None:
    assert look(delivery.carrier_against_label) == []
    assert look(delivery.carrier_against_label, record__planned_carrier=None) == []


def test_a_carrier_surely_above_the_label_is_a_breach() -> None:
    # 5940 · 0.303 / (4.0 · 20) = 22.5 gal/ac; the label's maximum has no tolerance.
    finding = the(delivery.carrier_against_label, **SETTINGS_ALONE, record__speed=q("4.0 mph"))
    assert finding.severity is Severity.BREACH
    assert finding.sentence == (
        "Delivered 22.5 gal/ac, label asks 10 to 20 gal/ac; at this accuracy between 21.6 and 23.5."
    )
    assert finding.basis == "Label of Fenland 4 EC, edition 2025-01"


def test_a_carrier_surely_below_the_label_is_a_breach() -> None:
    silent = {f"{LABEL}__carrier_min": q("18 gal/ac"), f"{LABEL}__carrier_max": None}
    finding = the(delivery.carrier_against_label, **SETTINGS_ALONE, **silent)
    assert finding.severity is Severity.BREACH
    assert "label asks at least 18 gal/ac; " in finding.sentence
    # The plan itself is not allowed, so the way back is to the label's limit.
    assert "would have given 18 gal/ac" in finding.settle


def test_a_delivered_rate_is_told_in_the_unit_of_the_label() -> None:
    finding = the(
        delivery.carrier_against_label,
        **SETTINGS_ALONE,
        record__speed=q("4.0 mph"),
        record__planned_carrier=q("300 L/ha"),
    )
    # 20 gal/ac are 187.079 L/ha (9.353956228956 L/ha each, exact).
    assert finding.sentence.startswith("Delivered 22.5 gal/ac, label asks 10 to 20 gal/ac; ")
    assert "would have given 20 gal/ac (187 L/ha)" in finding.settle


def test_a_carrier_beyond_the_label_by_the_yardstick_is_a_mismatch() -> None:
    # 15.0 against at most 14.2 gal/ac: 5.6 % beyond, and the accuracy of this gauge leaves it open
    # whether the truth is.
    unsure = SETTINGS_ALONE | {"rig__gauge_accuracy": q("4 psi")}
    finding = the(
        delivery.carrier_against_label, **unsure, **{f"{LABEL}__carrier_max": q("14.2 gal/ac")}
    )
    assert finding.severity is Severity.MISMATCH
    assert finding.basis.endswith("yardstick of the business: 5 % beyond the label")


def test_a_carrier_at_the_limit_of_the_label_is_quiet() -> None:
    assert look(delivery.carrier_against_label, **{f"{LABEL}__carrier_max": q("15 gal/ac")}) == []


def test_one_single_rate_on_the_label_is_quiet_where_it_is_kept() -> None:
    single = {f"{LABEL}__{end}": q("15 gal/ac") for end in ("carrier_min", "carrier_max")}
    assert look(delivery.carrier_against_label, **single) == []


def test_figures_are_added_until_the_two_sides_differ() -> None:
    # 14.998 against at most 14.97 would read "15.0 against 15.0".
    sure = SETTINGS_ALONE | {
        "rig__gauge_accuracy": q("0.001 psi"),
        "rig__speed_accuracy": q("0.0001 mph"),
        "rig__spacing_accuracy_percent": Decimal("0"),
        "catch_test__accuracy_percent": Decimal("0.1"),
        f"{LABEL}__carrier_max": q("14.97 gal/ac"),
    }
    finding = the(delivery.carrier_against_label, **sure)
    assert finding.sentence.startswith("Delivered 15.00 gal/ac, label asks 10 to 14.97 ")


def test_labels_silent_on_carrier_ask_nothing() -> None:
    assert look(delivery.carrier_against_label, **{LABEL: a_label()}, record__speed=None) == []


def test_labels_that_contradict_each_other_cannot_be_compared() -> None:
    lacking = lack(
        delivery.carrier_against_label, products__1__label=a_label(carrier_min=q("30 gal/ac"))
    )
    assert lacking.why == "no carrier volume suits all labels"


def test_the_label_comparison_needs_the_setting_and_the_label() -> None:
    assert set(lack(delivery.carrier_against_label, record__pressure=None).needs) == {"pressure"}
    assert "products.0.label" in lack(delivery.carrier_against_label, products__0__label=None).needs


# --- products --------------------------------------------------------------------------------

STRONG = {
    "loads__0__parts__0__amount": q("1760 fl oz"),
    "loads__1__parts__0__amount": q("1540 fl oz"),
}


def test_products_delivered_as_planned_agree() -> None:
    assert look(delivery.product_against_planned) == []


def test_a_wrong_carrier_moves_the_product_by_the_same_factor() -> None:
    # 22 · 18.0 / 15 = 26.4 fl oz/ac.
    finding = the(
        delivery.product_against_planned, **(SETTINGS_ALONE | LOADS), record__speed=q("5.0 mph")
    )
    assert finding.severity is Severity.MISMATCH
    assert finding.about == "products.0.planned_rate"
    assert finding.sentence.startswith(
        "Delivered 26.4 fl oz/ac of Fenland 4 EC, planned 22 fl oz/ac, 20.0 % more"
    )
    assert finding.settle == (
        "Check how much Fenland 4 EC went into the tank. 6.0 mph would have given 15.0 gal/ac; "
        "correct the entry if it was misread."
    )


def test_too_strong_a_mix_is_found_at_the_right_carrier() -> None:
    # 3300 fl oz in 1875 gal is 1.76 fl oz/gal: 26.4 fl oz/ac at 15 gal/ac.
    finding = the(delivery.product_against_planned, **STRONG)
    # Its own total is one more way to know.
    assert "Delivered 26.4 fl oz/ac of Fenland 4 EC" in finding.sentence


def test_a_rate_per_volume_is_compared_as_a_concentration() -> None:
    # 900 fl oz in 240,000 fl oz of mix is 0.375 % v/v.
    finding = the(
        delivery.product_against_planned,
        loads__0__parts__1__amount=q("480 fl oz"),
        loads__1__parts__1__amount=q("420 fl oz"),
    )
    assert finding.sentence.startswith(
        "The mix holds 0.375 % v/v of Wetting 90, planned 0.25 % v/v"
    )
    assert finding.settle == "Check how much Wetting 90 went into the tank."


def test_a_product_without_a_planned_carrier_is_settled_in_the_tank() -> None:
    finding = the(delivery.product_against_planned, record__planned_carrier=None, **STRONG)
    assert finding.settle == "Check how much Fenland 4 EC went into the tank."


def test_products_need_plan_and_setting_and_the_rest_is_still_looked_at() -> None:
    assert set(lack(delivery.product_against_planned, record__speed=None).needs) == {"speed"}
    assert set(lack(delivery.product_against_planned, products__1__planned_rate=None).needs) == {
        "products.1.planned_rate"
    }
    assert "products" in lack(delivery.product_against_planned, products=()).needs


def test_a_product_within_its_label_agrees() -> None:
    assert look(delivery.product_against_label) == []


def test_a_product_wholly_above_its_label_is_a_breach() -> None:
    finding = the(
        delivery.product_against_label, **STRONG, **{f"{LABEL}__rate_max": q("24 fl oz/ac")}
    )
    assert finding.severity is Severity.BREACH
    assert finding.about == "products.0.planned_rate"
    assert (
        "Delivered 26.4 fl oz/ac of Fenland 4 EC, label asks 16 to 24 fl oz/ac" in finding.sentence
    )


def test_a_product_at_its_limit_is_quiet() -> None:
    assert look(delivery.product_against_label, **{f"{LABEL}__rate_max": q("22 fl oz/ac")}) == []


def test_without_a_planned_rate_the_label_is_still_compared() -> None:
    unplanned = {"products__0__planned_rate": None, f"{LABEL}__rate_max": q("18 fl oz/ac")}
    assert the(delivery.product_against_label, **unplanned).severity is Severity.BREACH


def test_a_label_silent_on_the_rate_asks_nothing() -> None:
    assert look(delivery.product_against_label, **{LABEL: a_label()}, record__speed=None) == []


def test_the_product_label_comparison_needs_the_setting() -> None:
    kinds = lack(delivery.product_against_label, products__0__planned_rate=q("1 % v/v"))
    assert kinds.why == "the rate of Fenland 4 EC is planned in % v/v and limited in fl oz/ac"
    assert set(lack(delivery.product_against_label, rig=None).needs) == {"rig"}
