"""What was delivered: against plan and label, at which pressure and class, by which catch test.

The clean rig gives 0.303 gal/min per nozzle on 20 in, so it delivers 5940 · 0.303 / (v · 20) gal/ac
(UF/IFAS WG013), with U = 4.05 % (JCGM 100; worked out in test_assessment).
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from logbook.checks import delivery
from logbook.checks.core import Severity
from tests.logbook.checks.build import label as a_label
from tests.logbook.checks.build import lack, look, q, the

LABEL = "products__0__label"
GOING_ON: dict[str, Any] = {"record__finished_at": None}


# --- carrier against plan --------------------------------------------------------------------


def test_a_carrier_delivered_as_planned_agrees() -> None:
    assert look(delivery.carrier_against_planned) == []


def test_a_carrier_surely_beyond_the_tolerance_is_a_mismatch() -> None:
    # 5940 · 0.303 / (5.0 · 20) = 18.0 gal/ac; speed 0.1/5, gauge ½ · 2/42 make U 4.16 %: ± 0.75.
    finding = the(delivery.carrier_against_planned, record__speed=q("5.0 mph"))
    assert finding.severity is Severity.MISMATCH
    assert finding.about == "planned_carrier"
    assert finding.sentence == (
        "Delivered 18.0 gal/ac, planned 15.0 gal/ac, 20.0 % more; at this rig's accuracy between "
        "17.3 and 18.7."
    )
    assert finding.settle == (
        "6.0 mph would have given 15.0 gal/ac; correct the entry if it was misread."
    )
    assert "look again from 5 %, no agreement from 10 %" in finding.basis
    assert not finding.undecided


def test_a_carrier_too_low_says_less() -> None:
    # 5940 · 0.303 / (7.5 · 20) = 12.0 gal/ac.
    finding = the(delivery.carrier_against_planned, record__speed=q("7.5 mph"))
    assert "Delivered 12.0 gal/ac, planned 15.0 gal/ac, 20.0 % less" in finding.sentence
    # 40 psi · (15 / 12)² = 62.5 at the nozzle, and 2 psi · (15 / 12)² more at the gauge, which is
    # read to 2 psi.
    assert finding.settle == (
        "6.0 mph or 66 psi at the gauge would have given 15.0 gal/ac; correct the entry if it was "
        "misread."
    )


def test_while_the_work_goes_on_it_says_what_to_set() -> None:
    finding = the(delivery.carrier_against_planned, record__speed=q("7.5 mph"), **GOING_ON)
    assert finding.settle == "Drive 6.0 mph or set 66 psi at the gauge to deliver 15.0 gal/ac."


def test_a_carrier_near_the_tolerance_cannot_be_decided() -> None:
    # 5940 · 0.303 / (5.5 · 20) = 16.36 gal/ac ± 0.66: the 10 % limit, 16.5, lies within.
    finding = the(delivery.carrier_against_planned, record__speed=q("5.5 mph"))
    assert (finding.severity, finding.undecided) == (Severity.CAUTION, True)
    assert finding.sentence == (
        "Delivered 16.4 gal/ac, planned 15.0 gal/ac, 9.1 % more; at this rig's accuracy between "
        "15.7 and 17.0. Whether that is within 10 % cannot be decided."
    )
    assert finding.settle == (
        "A more exact gauge would decide it. 6.0 mph or 35 psi at the gauge would have given "
        "15.0 gal/ac; correct the entry if it was misread."
    )
    ahead = the(delivery.carrier_against_planned, record__speed=q("5.5 mph"), **GOING_ON)
    assert ahead.settle.startswith("Read the pressure on a more exact gauge. Drive 6.0 mph or set")


def test_a_carrier_beyond_five_per_cent_is_looked_at_again() -> None:
    # 5940 · 0.303 / (5.68 · 20) = 15.84 gal/ac, 5.6 % more, surely within 10 %.
    finding = the(delivery.carrier_against_planned, record__speed=q("5.68 mph"))
    assert (finding.severity, finding.undecided) == (Severity.CAUTION, False)


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


def test_a_carrier_wholly_above_the_label_is_a_breach() -> None:
    # 5940 · 0.303 / (4.0 · 20) = 22.5 gal/ac ± 1.0; the label's maximum has no tolerance.
    finding = the(delivery.carrier_against_label, record__speed=q("4.0 mph"))
    assert finding.severity is Severity.BREACH
    assert finding.sentence == (
        "Delivered 22.5 gal/ac, label asks 10 to 20 gal/ac; at this rig's accuracy between 21.5 "
        "and 23.5."
    )
    assert finding.basis == "Label of Fenland 4 EC, edition 2025-01"


def test_a_carrier_wholly_below_the_label_is_a_breach() -> None:
    silent = {f"{LABEL}__carrier_min": q("18 gal/ac"), f"{LABEL}__carrier_max": None}
    finding = the(delivery.carrier_against_label, **silent)
    assert finding.severity is Severity.BREACH
    assert "label asks at least 18 gal/ac; " in finding.sentence
    # The plan itself is not allowed, so the way back is to the label's limit.
    assert "would have given 18 gal/ac" in finding.settle


def test_a_label_in_another_unit_is_repeated_in_that_of_the_entry() -> None:
    # 10 and 20 gal/ac are 93.5396 and 187.079 L/ha (9.353956228956 L/ha each, exact).
    finding = the(
        delivery.carrier_against_label,
        record__speed=q("4.0 mph"),
        record__planned_carrier=q("300 L/ha"),
    )
    assert "label asks 10 to 20 gal/ac (93.5 to 187 L/ha); " in finding.sentence
    assert "would have given 20 gal/ac (187 L/ha)" in finding.settle


def test_a_carrier_across_the_limit_cannot_be_decided() -> None:
    finding = the(delivery.carrier_against_label, **{f"{LABEL}__carrier_max": q("15.3 gal/ac")})
    assert (finding.severity, finding.undecided) == (Severity.CAUTION, True)
    assert finding.sentence == (
        "Delivered 15.0 gal/ac, label asks 10 to 15.3 gal/ac; at this rig's accuracy between 14.4 "
        "and 15.6."
    )


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
    finding = the(delivery.product_against_planned, record__speed=q("5.0 mph"))
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


def test_a_product_across_its_limit_cannot_be_decided() -> None:
    finding = the(delivery.product_against_label, **{f"{LABEL}__rate_max": q("22 fl oz/ac")})
    assert (finding.severity, finding.undecided) == (Severity.CAUTION, True)
    assert finding.settle.startswith(
        "Check how much Fenland 4 EC went into the tank. A more exact gauge would decide it."
    )


def test_without_a_planned_rate_the_label_is_still_compared() -> None:
    unplanned = {"products__0__planned_rate": None, f"{LABEL}__rate_max": q("18 fl oz/ac")}
    assert the(delivery.product_against_label, **unplanned).severity is Severity.BREACH


def test_a_label_silent_on_the_rate_asks_nothing() -> None:
    assert look(delivery.product_against_label, **{LABEL: a_label()}, record__speed=None) == []


def test_the_product_label_comparison_needs_the_setting() -> None:
    kinds = lack(delivery.product_against_label, products__0__planned_rate=q("1 % v/v"))
    assert kinds.why == "the rate of Fenland 4 EC is planned in % v/v and limited in fl oz/ac"
    assert set(lack(delivery.product_against_label, rig=None).needs) == {"rig"}
