"""The numbers of the rate strip: every line, and what could not be computed."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from calc.units import convert
from logbook.checks.assessment import Assessment, RateLine, assess
from tests.logbook.checks.build import clean, given, q
from tests.logbook.checks.build import label as a_label

BY_USE = "concentration from the loads, weighed by what was used here of each"
NO_LOADS: dict[str, Any] = {"loads": ()}
NO_AMOUNTS: dict[str, Any] = NO_LOADS | {
    "record__mix_used": None,
    "products__0__total_used": None,
    "products__1__total_used": None,
}


KINDS = "Delivered rate of Fenland 4 EC: Fenland 4 EC is planned in oz/ac and entered in fl oz."


BY_LOADS: dict[str, Any] = {
    **{name: None for name in NO_AMOUNTS if name != "loads"},
    "record__distance": None,
}
"""The loads alone say what the mix holds, the settings how much of it was laid down."""

ALONE: dict[str, Any] = NO_AMOUNTS | {"record__distance": None}
"""The settings are all that says what was delivered."""


def line(subject: str, **changes: Any) -> RateLine:
    (found,) = [one for one in assess(given(**changes)).lines if one.subject == subject]
    return found


def test_the_clean_record_has_a_line_for_carrier_and_products() -> None:
    assessment = assess(clean())
    assert [one.path for one in assessment.lines] == [
        "planned_carrier",
        "products.0.planned_rate",
        "products.1.planned_rate",
    ]
    assert {one.against_planned for one in assessment.lines} == {"agrees"}
    assert [one.against_label for one in assessment.lines] == ["agrees", "agrees", ""]
    assert assessment.not_computed == ()


def test_it_is_sealed_as_plain_json() -> None:
    assessment = asdict(assess(clean()))
    assert json.loads(json.dumps(assessment))["lines"][0]["unit"] == "gal/ac"


def test_the_carrier_line_is_in_the_unit_entered() -> None:
    # 15 gal/ac = 140.309 L/ha (9.353956228956 L/ha each, exact).
    carrier = line("carrier", record__planned_carrier=q("140.31 L/ha"))
    assert carrier.unit == "L/ha"
    assert carrier.delivered == pytest.approx(15.0 * 9.353956228956, rel=1e-3)
    assert carrier.label_min == pytest.approx(93.53956, rel=1e-6)
    assert carrier.basis == (
        "Flow from the catch test of 2026-04-02, with mix over area, mix over distance and "
        "products over area."
    )
    alone = line("carrier", **ALONE)
    assert alone.basis == "Flow from the catch test of 2026-04-02."


def test_the_whisker_is_the_expanded_uncertainty() -> None:
    # By hand, rectangular half-widths over √3 (JCGM 100): catch 1.5 %, gauge ½ · 2/42, speed 0.1/6,
    # spacing 1 % → u 1.99 %.
    u = (0.015**2 + (0.5 * 2 / 42) ** 2 + (0.1 / 6) ** 2 + 0.01**2) ** 0.5 / 3**0.5
    carrier = line("carrier", **ALONE)
    assert carrier.delivered == pytest.approx(14.9985, rel=1e-4)
    # No single part rules, so k is near that of a normal spread.
    assert 1.9 < carrier.k < 1.96
    assert carrier.expanded == pytest.approx(carrier.k * u * 14.9985, rel=1e-4)
    # The error is a share of the truth: r/(1 + kU) to r/(1 − kU).
    assert carrier.ends == (
        pytest.approx(14.9985 / (1 + carrier.k * u), rel=1e-4),
        pytest.approx(14.9985 / (1 - carrier.k * u), rel=1e-4),
    )


def test_all_evidence_narrows_the_whisker() -> None:
    alone, all_of_it = line("carrier", **ALONE), line("carrier")
    assert (all_of_it.expanded or 0.0) < 0.6 * (alone.expanded or 0.0)
    assert all_of_it.delivered == pytest.approx(15.0, rel=2e-3)


def test_an_accuracy_that_knows_no_upper_end_says_so() -> None:
    slow = line("carrier", **ALONE, record__speed=q("0.1 mph"), rig__speed_accuracy=q("0.2 mph"))
    assert slow.ends is not None
    assert slow.ends[0] > 0.0
    assert slow.ends[1] is None


def test_what_was_sealed_before_has_the_ends_of_its_expanded_uncertainty() -> None:
    old = replace(line("carrier"), least=None, most=None, delivered=15.0, expanded=0.6)
    assert old.ends == (pytest.approx(14.4), pytest.approx(15.6))
    assert replace(old, expanded=None).ends is None


def test_a_label_that_an_old_seal_does_not_agree_with_is_broken() -> None:
    old = replace(line("carrier"), verdict="", against_label="does not agree")
    assert old.marks == ("breach", "agrees")
    assert replace(old, verdict="does not agree").marks == ("mismatch", "agrees")
    undecided = replace(old, against_label="cannot be decided at this accuracy")
    assert undecided.marks == ("undecided", "agrees")
    # Today it is said once for the record, and is no mark.
    assert replace(undecided, verdict="cannot be decided at this accuracy").marks[0] == ""


def test_a_product_follows_carrier_and_concentration() -> None:
    # 2750 fl oz in 1875 gal is 1.4667 fl oz/gal; times 14.9985 gal/ac.
    product = line("Fenland 4 EC", **BY_LOADS)
    assert product.delivered == pytest.approx(14.9985 * 2750 / 1875, rel=1e-6)
    assert product.basis.endswith(f"; {BY_USE}.")


def test_its_own_total_over_the_area_enters_the_rate_of_a_product() -> None:
    # 2750 fl oz on 125 ac are 22 fl oz/ac.
    product = line("Fenland 4 EC")
    assert product.delivered == pytest.approx(22.0, rel=1e-3)
    assert product.basis.endswith(f"; {BY_USE}; its total over the area.")


def test_loads_of_unlike_strength_weigh_by_what_was_used_here() -> None:
    # Load 1: 1000 gal with 2000 fl oz, 100 used; load 2: 875 gal with 875 fl oz, all used. By hand:
    # (100 · 2 + 875 · 1) / 975 = 1.1026 fl oz/gal, not 2875 / 1875 = 1.533.
    unlike = BY_LOADS | {
        "loads__0__parts__0__amount": q("2000 fl oz"),
        "loads__0__used_here": q("100 gal"),
        "loads__1__parts__0__amount": q("875 fl oz"),
    }
    product = line("Fenland 4 EC", **unlike)
    assert product.delivered == pytest.approx(14.9985 * 1075 / 975, rel=1e-6)
    assert product.basis.endswith(f"; {BY_USE}.")


@pytest.mark.parametrize(
    ("first", "second", "per_gal", "weighed"),
    [
        # Weights 1000 (mixed) and 875 (used): (1000 · 2 + 875 · 1) / 1875.
        (None, "875 gal", 2875 / 1875, "what was used here of each, or mixed where that is not "),
        ("not measured: no sight tube", None, 2875 / 1875, "what was mixed, as what was used here"),
        # "none" is an answer: nothing of that load came here.
        ("none", "500 gal", 1.0, "what was used here of each"),
        ("none", "none", 2875 / 1875, "what was mixed, as nothing of them was used here"),
    ],
)
def test_a_load_without_its_use_weighs_by_what_was_mixed(
    first: str | None, second: str | None, per_gal: float, weighed: str
) -> None:
    product = line(
        "Fenland 4 EC",
        **BY_LOADS,
        loads__0__parts__0__amount=q("2000 fl oz"),
        loads__1__parts__0__amount=q("875 fl oz"),
        loads__0__used_here=first and q(first),
        loads__1__used_here=second and q(second),
    )
    assert product.delivered == pytest.approx(14.9985 * per_gal, rel=1e-6)
    assert f"weighed by {weighed}" in product.basis


def test_without_loads_the_total_over_the_area_is_the_rate() -> None:
    # 2800 fl oz on 125 ac are 22.4 fl oz/ac; a strength of the mix would rest on that total too.
    product = line("Fenland 4 EC", **NO_LOADS, products__0__total_used=q("2800 fl oz"))
    assert product.delivered == pytest.approx(22.4, rel=1e-9)
    assert product.basis == "Its total over the area."


def test_without_loads_and_area_the_totals_say_the_concentration() -> None:
    product = line(
        "Fenland 4 EC",
        **NO_LOADS,
        products__0__total_used=q("2800 fl oz"),
        record__treated_area=None,
        record__distance=None,
    )
    assert product.delivered == pytest.approx(14.9985 * 2800 / 1875, rel=1e-6)
    assert product.basis.endswith("; concentration from the total used and the mix used.")


def test_without_amounts_a_product_line_only_restates_the_carrier() -> None:
    product = line("Fenland 4 EC", **ALONE, record__speed=q("5.0 mph"))
    assert product.delivered == pytest.approx(22 * 14.9985 * 6 / 5 / 15, rel=1e-6)
    assert product.basis.endswith(
        "concentration as planned, so that this only restates the carrier."
    )


def test_a_rate_per_volume_is_a_concentration_itself() -> None:
    # 600 fl oz in 1875 gal = 240,000 fl oz is 0.25 % v/v, whatever the speed.
    product = line("Wetting 90", record__speed=None)
    assert product.unit == "% v/v"
    assert product.delivered == pytest.approx(0.25)
    # The tank marks and what was measured out, each within 2 %, rectangular.
    assert product.expanded == pytest.approx(product.k * (2 / 3) ** 0.5 * 0.02 * 0.25)
    assert product.basis == f"C{BY_USE[1:]}."


def test_without_a_rig_the_tank_marks_are_taken_as_exact() -> None:
    # What is left is one rectangle, of which 95 % is 1.645 standard uncertainties.
    product = line("Wetting 90", rig=None)
    assert product.expanded == pytest.approx(0.95 * 0.02 * 0.25, rel=1e-3)


def test_a_mass_per_volume_is_one_too() -> None:
    # 17 lb/100 gal of 1875 gal is 318.75 lb.
    product = line(
        "Wetting 90",
        **NO_LOADS,
        products__1__planned_rate=q("17 lb/100 gal"),
        products__1__total_used=q("318.75 lb"),
    )
    assert product.delivered == pytest.approx(17.0)


def test_a_dry_product_is_in_mass_per_area() -> None:
    # 375 lb on 125 ac are 3 lb/ac.
    product = line(
        "Fenland 4 EC",
        **NO_LOADS,
        products__0__planned_rate=q("3 lb/ac"),
        products__0__total_used=q("375 lb"),
        products__0__label=a_label(),
    )
    assert product.delivered == pytest.approx(3.0, rel=1e-9)


@pytest.mark.parametrize(
    ("changes", "what"),
    [
        (
            {"record__speed": None},
            "Delivered carrier rate: needs ground speed.",
        ),
        (
            {"record__speed": q("not measured: no meter")},
            "Delivered carrier rate: ground speed was not measured: no meter.",
        ),
        (
            {"products__0__planned_rate": q("22 oz/ac"), "products__0__label": a_label()},
            KINDS,
        ),
        (
            NO_LOADS | {"products__0__planned_rate": q("22 oz/ac")},
            KINDS,
        ),
        (
            NO_AMOUNTS,
            "Delivered rate of Wetting 90: needs the total of Wetting 90 used and spray mix used "
            "on this field.",
        ),
        (
            NO_AMOUNTS | {"record__planned_carrier": None},
            "Delivered rate of Fenland 4 EC: needs planned carrier.",
        ),
        (
            {"products__1__planned_rate": None},
            "Delivered rate of Wetting 90: needs the planned rate of Wetting 90.",
        ),
        (
            {"nozzle__class_table": ()},
            "Droplet class: the nozzle has no table of classes.",
        ),
        (
            {"record__planned_carrier": None},
            "Speed window: needs planned carrier.",
        ),
        (
            {"nozzle__exponent": Decimal("0.9")},
            "Delivered carrier rate: pressure exponent is 0.9; it must be between 0.4 and 0.6.",
        ),
    ],
)
def test_what_cannot_be_computed_is_named(changes: dict[str, Any], what: str) -> None:
    assert what in assess(given(**changes)).not_computed


def test_plan_and_label_stand_without_a_delivered_rate() -> None:
    carrier = line("carrier", record__speed=None)
    assert (carrier.planned, carrier.label_max, carrier.delivered) == (15.0, 20.0, None)
    product = line("Fenland 4 EC", record__speed=None)
    assert (product.planned, product.delivered, product.against_planned) == (22.0, None, "")
    assert product.basis == f"No carrier rate; {BY_USE}."


def test_without_a_plan_the_line_takes_the_unit_of_the_label() -> None:
    carrier = line("carrier", record__planned_carrier=None)
    assert (carrier.unit, carrier.planned, carrier.against_planned) == ("gal/ac", None, "")
    product = line("Fenland 4 EC", products__0__planned_rate=q("none"))
    assert (product.unit, product.against_planned, product.against_label) == (
        "fl oz/ac",
        "",
        "agrees",
    )
    bare = {"record__planned_carrier": None, "products__0__label": a_label()}
    assert line("carrier", **bare).unit == "L/ha"


def test_labels_that_contradict_each_other_are_no_limit_to_draw() -> None:
    carrier = line("carrier", products__1__label=a_label(carrier_min=q("30 gal/ac")))
    assert (carrier.label_min, carrier.label_max, carrier.against_label) == (None, None, "")


def test_a_label_in_another_kind_of_rate_is_no_limit_to_draw() -> None:
    product = line("Fenland 4 EC", products__0__planned_rate=q("1.1 % v/v"))
    assert (product.label_max, product.against_label) == (None, "")


def test_the_tolerances_are_those_of_the_business() -> None:
    fast = ALONE | {"record__speed": q("5.6 mph")}  # 7.1 % more than planned
    assert line("carrier", **fast).look_again
    assert line("carrier", **fast).against_planned == "look again"
    assert not line("carrier", **fast, business__look_again_percent=Decimal(8)).look_again
    strict = line("carrier", **fast, business__disagree_percent=Decimal(5))
    assert strict.against_planned == "does not agree"


def test_a_plan_at_the_limit_of_the_label_agrees_and_says_so_quietly() -> None:
    # 5940 · 0.303 / (5.8 · 20) = 15.51 gal/ac: 3.4 % above 15, with u 2.0 % likely beyond it, but
    # not with 97.5 % (JCGM 106:2012, 7 and 8): by hand Φ(3.44 / 1.99) = 0.958.
    at_most = {"products__0__label__carrier_max": q("15 gal/ac")}
    carrier = line("carrier", **ALONE, **at_most, record__speed=q("5.8 mph"))
    assert carrier.against_label == "agrees"
    limit = "at the label’s limit: best estimate"
    assert carrier.at_limit == f"{limit} 3.4 % above it, 96 % likely above"
    below = line("carrier", **ALONE, products__0__label__carrier_min=q("15.2 gal/ac"))
    assert below.at_limit == f"{limit} 1.3 % below it, 75 % likely below"
    assert line("carrier", **ALONE).at_limit == ""


def test_a_single_rate_on_the_label_agrees_where_it_is_kept() -> None:
    single = {f"products__0__label__{end}": q("22 fl oz/ac") for end in ("rate_min", "rate_max")}
    product = line("Fenland 4 EC", **single)
    assert (product.against_label, product.verdict) == ("agrees", "agrees")


def test_too_coarse_a_rig_is_said_once_with_what_would_do() -> None:
    coarse = assess(given(**ALONE, rig__gauge_accuracy=q("12 psi")))
    assert {one.verdict for one in coarse.lines} == {"cannot be decided at this accuracy"}
    assert {mark for one in coarse.lines for mark in one.marks} <= {"", "agrees"}
    assert coarse.undecided.endswith("A gauge good to within 4.3 psi would do.")
    assert assess(given(**ALONE)).undecided == ""


def test_the_windows_are_those_of_the_nozzle() -> None:
    # 0.40 gal/min at 40 psi, 15 gal/ac, 20 in, 20 to 60 psi: 5.60 to 9.70 mph (square-root law).
    assessment = assess(
        given(
            catch_test=None,
            nozzle__rated_flow=q("0.40 gal/min"),
            nozzle__pressure_min=q("20 psi"),
            nozzle__pressure_max=q("60 psi"),
        )
    )
    assert assessment.speed_window_km_h is not None
    slowest, fastest = (
        convert(speed, from_unit="km/h", to_unit="mph") for speed in assessment.speed_window_km_h
    )
    assert (slowest, fastest) == (pytest.approx(5.60, abs=0.005), pytest.approx(9.70, abs=0.005))
    assert assessment.pressure_window_kpa == (q("20 psi").si, q("60 psi").si)


def test_the_speed_window_needs_no_speed() -> None:
    assert assess(given(record__speed=None)).speed_window_km_h is not None


def zone(**changes: Any) -> tuple[str, ...]:
    return assess(given(**changes)).statements


def test_the_exclusion_zone_is_stated() -> None:
    # 40 CFR 170.405(a)(1): Medium or larger from above 12 in, 25 ft; smaller than Medium, 100 ft.
    assert zone()[0].startswith(
        "Application exclusion zone: 25 ft (7.62 m) (class C, boom 20 in above the target; "
        "40 CFR 170.405(a)(1))."
    )
    assert "100 ft (30.5 m) (class F" in zone(record__pressure=q("94.5 psi"))[0]
    assert (
        "25 ft (7.62 m) if the nozzles were more than 12 in (30.5 cm) above the soil"
        in zone(record__boom_height=q("10 in"))[0]
    )


@pytest.mark.parametrize(
    "changes",
    [
        {"field": None},
        {"field__place": "CA-SK"},
        {"record__boom_height": None},
        {"nozzle__class_table": ()},
        {"record__started_at": None, "record__finished_at": None, "catch_test": None},
    ],
)
def test_no_zone_is_stated_where_the_rule_or_the_facts_are_not_there(
    changes: dict[str, Any],
) -> None:
    assert zone(**changes) == ()


def test_the_zone_is_that_of_its_own_day() -> None:
    # The present text took effect on 3 December 2024.
    before = clean().record.started_at
    assert before is not None
    before = before.replace(year=2024)
    assert zone(record__started_at=before, record__finished_at=before) == ()
    assert date(2024, 6, 10) == before.date()


def test_an_empty_record_is_assessed_as_one() -> None:
    empty = assess(
        given(rig=None, nozzle=None, catch_test=None, products=(), record__pressure=None)
    )
    assert empty == Assessment(
        lines=empty.lines,
        nozzle_flow_l_min=None,
        nozzle_pressure_kpa=None,
        classes=(),
        pressure_window_kpa=None,
        speed_window_km_h=None,
        flow_basis="",
        statements=(),
        not_computed=(
            "Nozzle flow and pressure: needs rig, nozzles and pressure at the gauge.",
            "Delivered carrier rate: needs rig, nozzles and pressure at the gauge.",
        ),
    )


@pytest.mark.parametrize("density", ["720 g/L", "1980 g/L"])
def test_a_density_that_no_flow_is_known_for_is_named_and_the_rest_stands(density: str) -> None:
    """Beyond the range in which flow goes by the root of the density, nothing is guessed."""
    assessment = assess(given(record__density=q(density), rig__line_loss=None))
    assert assessment.nozzle_flow_l_min is None
    assert any(one.startswith("Nozzle flow: ") for one in map(str, assessment.not_computed))
    assert assessment.pressure_window_kpa is not None
