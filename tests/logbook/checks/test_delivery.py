"""What was delivered: against plan and label, at which pressure and class, by which catch test.

The clean rig gives 0.303 gal/min per nozzle on 20 in, so it delivers 5940 · 0.303 / (v · 20) gal/ac
(UF/IFAS WG013), with U = 4.05 % (JCGM 100; worked out in test_assessment).
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from logbook.checks import delivery
from logbook.checks.core import Severity
from tests.logbook.checks.build import catch_test as a_catch_test
from tests.logbook.checks.build import clean, lack, look, q, the
from tests.logbook.checks.build import label as a_label

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


# --- pressure --------------------------------------------------------------------------------


def test_a_pressure_within_the_rated_range_agrees() -> None:
    assert look(delivery.nozzle_pressure) == []


def test_a_pressure_outside_the_rated_range_is_a_mismatch() -> None:
    # 21 psi at the gauge is 20 psi at the nozzle: half of 42 and 40.
    finding = the(delivery.nozzle_pressure, record__pressure=q("21 psi"))
    assert finding.severity is Severity.MISMATCH
    assert finding.sentence == (
        "Pressure at the nozzle 20.0 psi; AI 110-03 is rated for 30 to 90 psi."
    )


def test_a_range_in_another_unit_is_repeated_in_that_of_the_gauge() -> None:
    # 2 and 6 bar are 29.0 and 87.0 psi (1 bar = 14.5038 psi).
    finding = the(
        delivery.nozzle_pressure,
        record__pressure=q("21 psi"),
        nozzle__pressure_min=q("2 bar"),
        nozzle__pressure_max=q("6 bar"),
    )
    assert "is rated for 2 to 6 bar (29.0 to 87.0 psi)" in finding.sentence


def test_a_pressure_at_the_edge_of_the_range_cannot_be_decided() -> None:
    # 31.5 psi at the gauge is 30 at the nozzle; the gauge is right within ± 2 psi.
    finding = the(delivery.nozzle_pressure, record__pressure=q("31.5 psi"))
    assert (finding.severity, finding.undecided) == (Severity.CAUTION, True)
    assert finding.sentence.endswith("at this gauge's accuracy that cannot be decided.")


def test_the_pressure_check_needs_the_gauge() -> None:
    assert set(lack(delivery.nozzle_pressure, record__pressure=None).needs) == {"pressure"}


# --- droplet class ---------------------------------------------------------------------------


def test_a_class_that_the_label_allows_agrees() -> None:
    # Between 30 psi (VC) and 50 psi (C) both are possible, and both are allowed.
    assert look(delivery.droplet_class) == []


def test_a_finer_class_than_the_label_allows_is_a_breach() -> None:
    # 94.5 psi at the gauge is 90 at the nozzle, where the table says Fine.
    finding = the(delivery.droplet_class, record__pressure=q("94.5 psi"))
    assert finding.severity is Severity.BREACH
    assert finding.sentence == (
        "At 90.0 psi AI 110-03 sprays Fine, label asks Medium to Very Coarse."
    )
    assert finding.settle.startswith("At 30 psi, 50 psi and 70 psi its table gives a class")
    ahead = the(delivery.droplet_class, record__pressure=q("94.5 psi"), **GOING_ON)
    assert ahead.settle.startswith("Run at 30 psi, 50 psi and 70 psi, where its table gives")
    assert finding.basis.endswith("classes of ASABE S572")


def test_a_coarser_class_than_the_label_allows_is_a_breach() -> None:
    finer = {f"{LABEL}__finest_class": "", f"{LABEL}__coarsest_class": "M"}
    assert "label asks Medium or finer" in the(delivery.droplet_class, **finer).sentence


def test_a_class_between_two_of_which_one_is_allowed_cannot_be_decided() -> None:
    only = {f"{LABEL}__finest_class": "VC", f"{LABEL}__coarsest_class": ""}
    finding = the(delivery.droplet_class, **only)
    assert (finding.severity, finding.undecided) == (Severity.CAUTION, True)
    assert "may spray Coarse or Very Coarse (between the listed" in finding.sentence
    assert finding.sentence.endswith("label asks Very Coarse or coarser.")


def test_an_unknown_class_cannot_be_decided() -> None:
    finding = the(delivery.droplet_class, record__pressure=q("105 psi"))
    assert (finding.severity, finding.undecided) == (Severity.CAUTION, True)
    assert "At 100 psi AI 110-03 has no known droplet class (outside the table" in finding.sentence


def test_a_nozzle_without_an_allowed_class_is_to_be_changed() -> None:
    coarse = {f"{LABEL}__finest_class": "XC", f"{LABEL}__coarsest_class": ""}
    assert the(delivery.droplet_class, **coarse).settle.startswith("Correct the nozzle")
    ahead = the(delivery.droplet_class, **coarse, **GOING_ON)
    assert ahead.settle.startswith("Fit a nozzle")


def test_labels_that_leave_no_class_are_a_breach_of_the_mix() -> None:
    finding = the(delivery.droplet_class, products__1__label=a_label(finest_class="UC"))
    assert finding.sentence == (
        "No droplet class suits all labels: they ask Ultra Coarse to Very Coarse together."
    )


def test_labels_silent_on_the_class_ask_nothing() -> None:
    assert look(delivery.droplet_class, **{LABEL: a_label()}, nozzle=None) == []


def test_the_class_needs_nozzle_and_label() -> None:
    assert set(lack(delivery.droplet_class, nozzle=None).needs) == {"nozzle"}
    assert "products.0.label" in lack(delivery.droplet_class, products__0__label=None).needs


# --- line loss -------------------------------------------------------------------------------


@pytest.mark.parametrize("loss", ["2 psi", "none", "not applicable"])
def test_a_small_pressure_loss_agrees(loss: str) -> None:
    assert look(delivery.line_loss, rig__line_loss=q(loss)) == []


def test_more_than_a_tenth_lost_is_a_caution() -> None:
    # ISO 16122-2, from memory: at most 10 % from gauge to nozzle.
    finding = the(delivery.line_loss, rig__line_loss=q("8 psi"))
    assert finding.severity is Severity.CAUTION
    assert "of 42 psi is lost before the nozzle" in finding.sentence
    assert finding.sentence.endswith("at most 10 % is usual.")


def test_a_loss_that_is_blank_or_not_measured_is_said() -> None:
    assert "rig.line_loss" in lack(delivery.line_loss, rig__line_loss=None).needs
    assert (
        "was not measured: no gauge"
        in lack(delivery.line_loss, rig__line_loss=q("not measured: no gauge")).why
    )
    assert lack(delivery.line_loss, rig=None).needs == {"rig": "rig"}


# --- catch test ------------------------------------------------------------------------------


def test_a_young_catch_test_agrees() -> None:
    assert look(delivery.catch_test) == []


@pytest.mark.parametrize(
    ("test", "words"),
    [
        (None, "These nozzles have no catch test; the flow is taken as rated, 0.30 gal/min at 40"),
        (date(2025, 6, 9), "The catch test of 2025-06-09 was 366 days old, more than 365; "),
        (date(2026, 6, 11), "The catch test of 2026-06-11 was done after the spraying of 2026"),
    ],
)
def test_no_catch_test_in_force_is_a_caution(test: date | None, words: str) -> None:
    found = None if test is None else a_catch_test(tested_on=test)
    finding = the(delivery.catch_test, catch_test=found)
    assert finding.severity is Severity.CAUTION
    assert finding.sentence.startswith(words)
    assert finding.settle == "Catch-test the nozzles."


def test_the_catch_test_check_needs_nozzle_and_day() -> None:
    lacking = lack(
        delivery.catch_test, nozzle=None, record__started_at=None, record__finished_at=None
    )
    assert set(lacking.needs) == {"nozzle", "started_at"}


# Eight nozzles, 60 s, mL; new 1184 mL: mean 1205, no. 5 is +8.3 % of the mean and +10.2 % over new
# (the limits: Montana MT 2000-14 ±5 % of the mean, Klein and Ohio State +10 % over new).
EIGHT: dict[str, Any] = {
    "catch_test__volumes": tuple(map(Decimal, (1180, 1195, 1210, 1175, 1305, 1190, 1200, 1185))),
    "catch_test__volume_unit": "mL",
    "catch_test__pressure": q("300 kPa"),
    "nozzle__rated_flow": q("1.184 L/min"),
    "nozzle__rated_pressure": q("300 kPa"),
}


def test_even_nozzles_agree() -> None:
    assert look(delivery.nozzle_evenness) == []


def test_an_uneven_nozzle_is_a_caution_by_its_number() -> None:
    finding = the(delivery.nozzle_evenness, **EIGHT)
    assert finding.severity is Severity.CAUTION
    assert finding.sentence == (
        "In the catch test of 2026-04-02, nozzle 5 gave 8.3 % more than the mean, 1.21 L/min; "
        "5 % is the yardstick."
    )


def test_an_uneven_nozzle_is_named_without_the_data_sheet() -> None:
    bare = {key: value for key, value in EIGHT.items() if key.startswith("catch")}
    assert "nozzle 5 gave 8.3 % more" in the(delivery.nozzle_evenness, nozzle=None, **bare).sentence


def test_evenness_without_a_catch_test_says_so() -> None:
    assert lack(delivery.nozzle_evenness, catch_test=None).why == (
        "these nozzles have no catch test"
    )


def test_unworn_nozzles_agree() -> None:
    assert look(delivery.nozzle_wear) == []


def test_a_worn_nozzle_is_a_caution_by_its_number() -> None:
    finding = the(delivery.nozzle_wear, **EIGHT)
    assert finding.severity is Severity.CAUTION
    assert "nozzle 5 gave 10.2 % more than a new one at 300 kPa" in finding.sentence


def test_wear_needs_the_nozzle_and_a_test() -> None:
    assert lack(delivery.nozzle_wear, nozzle=None).needs == {"nozzle": "nozzles"}
    assert lack(delivery.nozzle_wear, catch_test=None).why


def test_a_mean_flow_as_rated_agrees() -> None:
    assert look(delivery.caught_flow) == []


@pytest.mark.parametrize(
    ("shown", "severity", "undecided"),
    [
        ("0.250", Severity.MISMATCH, False),  # caught 21 % more
        ("0.277", Severity.CAUTION, True),  # 9.4 % more, ± 3.4 %
        ("0.286", Severity.CAUTION, False),  # 5.9 % more
    ],
)
def test_a_mean_flow_off_the_data_sheet_speaks(
    shown: str, severity: Severity, undecided: bool
) -> None:
    finding = the(delivery.caught_flow, nozzle__rated_flow=q(f"{shown} gal/min"))
    assert (finding.severity, finding.undecided) == (severity, undecided)
    assert f"gave 0.303 gal/min on average at 40 psi; rated is {shown} gal/min" in finding.sentence


def test_the_mean_flow_needs_nozzle_and_rig() -> None:
    assert set(lack(delivery.caught_flow, nozzle=None, rig=None).needs) == {"nozzle", "rig"}
    assert lack(delivery.caught_flow, catch_test=None).why == "these nozzles have no catch test"
    assert clean().catch_test


# --- nozzles on the rig ----------------------------------------------------------------------


def test_nozzles_on_the_rig_on_the_day_agree() -> None:
    assert look(delivery.nozzles_mounted) == []
    same_day = {"nozzle_mounted_on": date(2026, 6, 10), "nozzle_removed_on": date(2026, 6, 10)}
    assert look(delivery.nozzles_mounted, **same_day) == []


def test_nozzles_mounted_after_the_spraying_are_a_mismatch() -> None:
    finding = the(delivery.nozzles_mounted, nozzle_mounted_on=date(2026, 6, 11))
    assert finding.severity is Severity.MISMATCH
    assert finding.sentence == (
        "The nozzles AI 110-03 were mounted on 2026-06-11, after the spraying of 2026-06-10."
    )


def test_nozzles_taken_off_before_the_spraying_are_a_mismatch() -> None:
    finding = the(delivery.nozzles_mounted, nozzle_removed_on=date(2026, 6, 9))
    assert finding.sentence == (
        "The nozzles AI 110-03 were taken off on 2026-06-09, before the spraying of 2026-06-10."
    )


def test_the_mounting_needs_nozzle_and_day() -> None:
    undated = {"record__started_at": None, "record__finished_at": None}
    assert set(lack(delivery.nozzles_mounted, nozzle=None, **undated).needs) == {
        "nozzle",
        "started_at",
    }
    assert lack(delivery.nozzles_mounted, nozzle_mounted_on=None).needs == {
        "nozzle": "the day on which the nozzles were mounted"
    }
