"""The open rate check: published examples, units, refusals, and many rows at once."""

from __future__ import annotations

import json
import math
import random
from typing import Any

import pint
import pytest

from calc.delivery import Settings, Uncertainties, delivered
from logbook.checks.ratecheck import COLUMNS, MAX_ROWS
from tests.logbook.api.conftest import Caller, problem_of

pytestmark = pytest.mark.django_db

ROOT_3 = math.sqrt(3.0)
EXACT = {
    f"{name}_accuracy": 0
    for name in ("flow", "pressure", "exponent", "speed", "spacing", "density", "duty")
}
AGREES = "agrees"
DISAGREES = "does not agree"
OUTSIDE = "outside the label"
UNDECIDED = "cannot be decided at this accuracy"


def check(visitor: Caller, body: Any) -> Any:
    response = visitor.post("rate-check/", body)
    assert response.status_code == 200, response.content
    return response.json()


def one(visitor: Caller, **setting: Any) -> dict[str, Any]:
    (result,) = check(visitor, setting)["results"]
    return result


# --- unusual numbers -----------------------------------------------------------------------------

ORDINARY = {"known_flow": "0.4 gal/min", "speed": "6 mph", "spacing": "20 in"}
AT_PRESSURE = {**ORDINARY, "known_pressure": "40 psi"}


def test_a_number_outside_its_usual_range_is_taken_and_asked_about(visitor: Caller) -> None:
    # Slips of the unit as the trade makes them, from memory: a gauge in bar read as psi.
    rows = [{**AT_PRESSURE, "pressure": "3 psi"}, {**AT_PRESSURE, "pressure": 276, "planned": 15}]
    answer = check(visitor, {"settings": rows})
    assert answer["questions"] == {
        "settings.0.pressure": "3 psi is outside what is usual, 10.2 to 218 psi. Was 3 bar meant?",
        "settings.1.planned": "15 L/ha is outside what is usual, 30 to 1500 L/ha. "
        "Was 15 gal/ac meant?",
    }
    assert len(answer["results"]) == 2
    assert check(visitor, {**AT_PRESSURE, "pressure": "40 psi"})["questions"] == {}


def test_a_refusal_names_the_slip_that_explains_it(visitor: Caller) -> None:
    answer = problem_of(visitor.post("rate-check/", {**ORDINARY, "duty": "0.6 %"}), 422)
    assert answer["errors"]["duty"] == ["0.6 %; it must be between 1 and 100 %. Was 60 % meant?"]


def test_questions_about_many_rows_are_bounded(visitor: Caller) -> None:
    rows = [{**AT_PRESSURE, "pressure": "3 psi"}] * 150
    assert len(check(visitor, {"settings": rows})["questions"]) == 100


# --- published examples --------------------------------------------------------------------------

PUBLISHED = [
    pytest.param(
        {"known_flow": "24 L/min", "speed": "12 km/h", "spacing": "12 m"},
        ("L/ha", 100.0, 1e-9),
        id="Queensland chemical-accreditation course: 24 L/min, 12 km/h, 12 m make 100 L/ha",
    ),
    pytest.param(
        {"known_flow": 24, "speed": 12, "spacing": 1200},
        ("L/ha", 100.0, 1e-9),
        id="the same in plain numbers: L/min, km/h, cm",
    ),
    pytest.param(
        {"known_flow": "0.505 gal/min", "speed": "5 mph", "spacing": "30 in"},
        ("gal/ac", 20.0, 0.02),
        id="Montana State Extension, shortcut slides: 0.505 gal/min at 5 mph, 30 in for 20 gal/ac",
    ),
    pytest.param(
        {"known_flow": "10 gal/min", "speed": "4.714 mph", "spacing": "35 ft"},
        ("gal/ac", 30.0, 0.01),
        id="MontGuide MT 2000-14, 3a: 10 gal/min on 35 ft at 4.714 mph makes 30 gal/ac",
    ),
    pytest.param(
        {"known_flow": "480 fl oz/min", "speed": "5 mph", "spacing": "222 in"},
        ("gal/ac", 20.07, 0.005),
        id="Albany County, Wyoming, weed and pest: 480 fl oz/min, 222 in, 5 mph make 20 gal/ac",
    ),
    pytest.param(
        {"known_flow": "3 gal/min", "speed": "3 mph", "spacing": "20 ft"},
        ("gal/ac", 24.75, 1e-9),
        id="Michigan right-of-way training: 3 gal/min, 3 mph, 20 ft make 24.75 gal/ac",
    ),
    pytest.param(
        {
            "known_flow": "0.2 gal/min",
            "known_pressure": "40 psi",
            "pressure": "275 kPa",
            "speed": "9 km/h",
            "spacing": "50 cm",
        },
        ("L/ac", 40.8, 0.1),
        id="Alberta Agdex 606-1, step 4: an 02 nozzle at 275 kPa, 9 km/h makes 40 L/acre",
    ),
    pytest.param(
        # Water from these nozzles would be 22.6 gal/ac (UF/IFAS WG013: 5940 · gpm / (mph · in)).
        {
            "known_flow": f"{22.6 * 5 * 20 / 5940:.6f} gal/min",
            "speed": "5 mph",
            "spacing": "20 in",
            "density": "10.65 lb/gal",
        },
        ("gal/ac", 20.0, 0.05),
        id="Nebraska CropWatch 2016, 1: 28 % UAN of 10.65 lb/gal, 22.6 gal/ac of water for 20",
    ),
    pytest.param(
        {"known_flow": 1.09, "speed": 12, "spacing": 50, "density": "9.91 lb/gal"},
        ("L/ha", 100.0, 0.5),
        id="Oklahoma State, water calibration: 9.91 lb/gal has the conversion factor 1.09",
    ),
]


@pytest.mark.parametrize(("setting", "expected"), PUBLISHED)
def test_a_published_example_comes_out_as_printed(visitor, setting, expected):
    unit, value, tolerance = expected
    result = one(visitor, unit=unit, **setting)
    assert result["delivered"] == pytest.approx(value, abs=tolerance)


def test_at_a_known_uncertainty_the_label_is_kept_or_broken(visitor):
    """JCGM 106:2012, 7, computed: u 1.5 %, 1 %, 0.5 % → 1.87 %; U is 5.2 at 140, 5.5 at 146."""
    sure = {
        "flow_accuracy": 1.5 * ROOT_3,
        "speed_accuracy": f"{ROOT_3:.9f} %",
        "spacing_accuracy": 0.5 * ROOT_3,
        "speed": 12,
        "spacing": 50,
        "label_max": 150,
    }
    kept = one(visitor, known_flow=1.40, **sure)
    assert kept["delivered"] == pytest.approx(140.0)
    assert kept["relative_u_percent"] == pytest.approx(1.87, abs=0.005)
    assert kept["expanded"] == pytest.approx(5.2, abs=0.05)
    assert kept["label"] == AGREES
    open_ = one(visitor, known_flow=1.46, **sure)
    assert open_["expanded"] == pytest.approx(5.5, abs=0.05)
    assert (open_["label"], open_["at_limit"]) == (AGREES, "high")
    assert open_["beyond_percent"] == pytest.approx(100 * (146 / 150 - 1))
    # Beyond 150 · (1 + 1.96 · 0.0187) = 155.5 with 97.5 %.
    assert one(visitor, known_flow=1.55, **sure)["label"] == AGREES
    assert one(visitor, known_flow=1.56, **sure)["label"] == OUTSIDE


def test_a_rated_nozzle_and_a_coarse_gauge_leave_a_five_percent_question_open(visitor):
    """JCGM 100:2008, 4.3.7 and 5.1.6, computed: ± 5 %, 2.0 ± 0.2 bar, u 1.5 % → 4.35 %."""
    result = one(
        visitor,
        known_flow=1.0,
        known_pressure="2 bar",
        pressure="2.0 bar",
        speed=12,
        spacing=50,
        flow_accuracy="5 %",
        pressure_accuracy="0.2 bar",
        speed_accuracy=f"{1.5 * ROOT_3:.9f} %",
        spacing_accuracy=0,
        label_min=95,
        label_max=105,
    )
    assert result["delivered"] == pytest.approx(100.0)
    assert result["relative_u_percent"] == pytest.approx(4.35, abs=0.005)
    assert result["expanded"] == pytest.approx(8.7, abs=0.05)
    assert result["label"] == UNDECIDED


# --- what comes back -----------------------------------------------------------------------------


def test_the_answer_names_tolerance_basis_and_what_was_assumed(visitor):
    found = check(visitor, {"known_flow": 1.0, "speed": 12, "spacing": 50, "planned": 100})
    assert found["unit"] == "L/ha"
    assert found["coverage_factor"] == 2
    assert found["tolerance"]["look_again_percent"] == 5
    assert found["tolerance"]["disagree_percent"] == 10
    assert "no source" in found["tolerance"]["basis"]
    assert "no tolerance" in found["label_basis"]
    assert "label and local law decide" in found["caution"]
    assert found["assumed"] == {
        "density": "1 SG",
        "duty": "100 %",
        "flow_accuracy": "5 %",
        "speed_accuracy": "0.2 km/h",
        "spacing_accuracy": "1 %",
        "density_accuracy": "0 %",
        "duty_accuracy": "0 %",
    }


def test_nothing_is_assumed_where_everything_is_said(visitor):
    said = {
        "known_flow": 1.0,
        "known_pressure": 300,
        "pressure": 300,
        "line_loss": 0,
        "exponent": 0.5,
        "speed": 12,
        "spacing": 50,
        "density": 1,
        "duty": 100,
        **EXACT,
    }
    found = check(visitor, said)
    assert found["assumed"] == {}
    (result,) = found["results"]
    assert result["expanded"] == 0
    assert result["label"] is result["planned"] is result["look_again"] is None
    assert result["deviation_percent"] is None


@pytest.mark.parametrize(
    ("flow", "planned", "look_again"),
    [
        (1.0, AGREES, False),
        (1.06, "look again", True),
        (1.2, DISAGREES, True),
        (0.8, DISAGREES, True),
    ],
)
def test_the_plan_has_a_yardstick(visitor, flow, planned, look_again):
    """5 % and 10 % from the plan: common practice, no source."""
    setting = {"known_flow": flow, "speed": 12, "spacing": 50, "planned": "100 L/ha", **EXACT}
    result = one(visitor, **setting)
    assert (result["planned"], result["look_again"]) == (planned, look_again)
    assert result["deviation_percent"] == pytest.approx(100 * (flow - 1))


def test_a_label_limit_itself_is_allowed_in_every_unit(visitor):
    setting = {"known_flow": "0.505 gal/min", "speed": "5 mph", "spacing": "30 in", **EXACT}
    (rate,) = check(visitor, {"unit": "gal/ac", **setting})["results"]
    limit = {"value": rate["delivered"], "unit": "gal/ac"}
    assert one(visitor, label_max=limit, **setting)["label"] == AGREES
    assert one(visitor, label_min=limit, **setting)["label"] == AGREES


def test_pressure_and_line_loss_scale_the_flow(visitor):
    # q = q0 · √(p / p0): at four times the pressure twice the flow (orifice law, exponent 0.5).
    setting = {"known_flow": 1.0, "known_pressure": 100, "speed": 12, "spacing": 50}
    result = one(visitor, pressure="430 kPa", line_loss=30, **setting)
    assert result["nozzle_pressure_kpa"] == 400
    assert result["nozzle_flow_l_min"] == pytest.approx(2.0)
    assert result["delivered"] == pytest.approx(200.0)


def test_half_the_duty_gives_half_the_rate(visitor):
    setting = {"known_flow": 1.0, "speed": 12, "spacing": 50}
    assert one(visitor, duty=50, **setting)["delivered"] == pytest.approx(50.0)


PINT = pint.UnitRegistry()
PINT.define("international_acre = 43560 * foot ** 2")
NAMES = {
    "km/h": "kilometer/hour",
    "m/s": "meter/second",
    "mph": "mile/hour",
    "kn": "knot",
    "kPa": "kilopascal",
    "bar": "bar",
    "psi": "psi",
    "m": "meter",
    "mm": "millimeter",
    "cm": "centimeter",
    "km": "kilometer",
    "in": "inch",
    "ft": "foot",
    "yd": "yard",
    "mi": "mile",
    "L/min": "liter/minute",
    "mL/min": "milliliter/minute",
    "gal/min": "gallon/minute",
    "fl oz/min": "fluid_ounce/minute",
    "L/ha": "liter/hectare",
    "mL/ha": "milliliter/hectare",
    "L/ac": "liter/international_acre",
    "gal/ac": "gallon/international_acre",
    "imp gal/ac": "imperial_gallon/international_acre",
    "qt/ac": "quart/international_acre",
    "pt/ac": "pint/international_acre",
    "fl oz/ac": "fluid_ounce/international_acre",
}
BASE = {
    "known_flow": 1.3,
    "known_pressure": 280.0,
    "pressure": 320.0,
    "speed": 11.0,
    "spacing": 51.0,
    "planned": 140.0,
}


@pytest.mark.parametrize(
    ("name", "unit"),
    [(name, unit) for name in BASE for unit in COLUMNS[name].units],
)
@pytest.mark.parametrize("as_text", [True, False])
def test_every_unit_means_what_the_pint_library_says(visitor, name, unit, as_text):
    value = PINT.Quantity(BASE[name], NAMES[COLUMNS[name].unit]).to(NAMES[unit]).magnitude
    cell = f"{value:.12f} {unit}" if as_text else {"value": value, "unit": unit}
    found, plain = one(visitor, **{**BASE, name: cell}), one(visitor, **BASE)
    for number in ("delivered", "expanded", "nozzle_pressure_kpa", "deviation_percent"):
        assert found[number] == pytest.approx(plain[number], rel=1e-8)


@pytest.mark.parametrize("unit", COLUMNS["planned"].units)
def test_rates_come_back_in_the_unit_asked_for(visitor, unit):
    in_si = one(visitor, **BASE)["delivered"]
    expected = PINT.Quantity(in_si, "liter/hectare").to(NAMES[unit]).magnitude
    assert one(visitor, unit=unit, **BASE)["delivered"] == pytest.approx(expected, rel=1e-12)


# --- refusals ------------------------------------------------------------------------------------

GOOD = {"known_flow": 1.0, "speed": 12, "spacing": 50}
WRONG = [
    ({"known_flow": None}, "known_flow", "It is needed"),
    ({"speed": 0}, "speed", "0; it must be between 0.1 and 60 km/h."),
    ({"speed": -3}, "speed", "-3; it must be between 0.1 and 60 km/h."),
    ({"speed": "200 mph"}, "speed", "200 mph; it must be between 0.1 and 60 km/h."),
    ({"speed": {"value": 200, "unit": "mph"}}, "speed", "200 mph; it must be between"),
    ({"speed": "12 psi"}, "speed", "allowed are km/h, m/s, mph, kn"),
    ({"speed": "12"}, "speed", "allowed are km/h, m/s, mph, kn"),
    ({"speed": ""}, "speed", "not a number in km/h"),
    ({"speed": "none"}, "speed", "not allowed here"),
    ({"speed": True}, "speed", "True is not a number in km/h"),
    ({"speed": [12]}, "speed", "not a number in km/h"),
    ({"speed": {"value": 12}}, "speed", "not a number in km/h"),
    ({"speed": {"value": 12, "unit": "psi"}}, "speed", "psi is not a unit for this"),
    ({"speed": {"value": 12, "unit": ["mph"]}}, "speed", "is not a unit for this"),
    ({"speed": {"value": "x", "unit": "mph"}}, "speed", "is not a number"),
    ({"speed": {"value": None, "unit": "mph"}}, "speed", "not a number in km/h"),
    ({"speed": {"value": True, "unit": "mph"}}, "speed", "not a number in km/h"),
    ({"speed": {"value": 12, "unit": "mph", "was": 1}}, "speed", "not a number in km/h"),
    ({"speed": 10**400}, "speed", "must be between 0.1 and 60 km/h"),
    ({"speed": {"value": -(10**400), "unit": "mph"}}, "speed", "must be between"),
    ({"speed": {"value": 1e308, "unit": "mph"}}, "speed", "1e+308 mph; it must be between"),
    ({"known_flow": 1e308}, "known_flow", "must be between 0.001 and 100000 L/min"),
    ({"exponent": 0.7}, "exponent", "between 0.4 and 0.6"),
    ({"density": 3}, "density", "between 0.75 and 1.95 SG"),
    ({"duty": 101}, "duty", "between 1 and 100 %"),
    ({"flow_accuracy": 101}, "flow_accuracy", "between 0 and 100 %"),
    ({"speed_accuracy": "101 %"}, "speed_accuracy", "between 0 and 100 %"),
    ({"speed_accuracy": -1}, "speed_accuracy", "between 0 and 10000 km/h"),
    ({"speed_accuracy": "1 bar"}, "speed_accuracy", "allowed are km/h, m/s, mph, kn, %"),
    ({"sped": 12}, "sped", "There is no such field; allowed: known_flow"),
    ({"pressure": 300}, "known_pressure", "It is needed beside pressure"),
    ({"known_pressure": 300}, "pressure", "It is needed beside known_pressure"),
    ({"line_loss": 5}, "line_loss", "read only beside pressure"),
    (
        {"known_pressure": 300, "pressure": 300, "line_loss": "3 bar"},
        "line_loss",
        "300 kPa; it must be below the pressure, 300 kPa.",
    ),
    (
        {"label_min": "20 gal/ac", "label_max": 100},
        "label_min",
        "187.079 L/ha; it must not be above label_max, 100 L/ha.",
    ),
    ({"planned": 0}, "planned", "between 0.01 and 100000 L/ha"),
    ({"unit": "psi"}, "unit", "allowed are L/ha"),
    ({"unit": None}, "unit", "allowed are L/ha"),
    ({"unit": {}}, "unit", "allowed are L/ha"),
]


@pytest.mark.parametrize(("change", "name", "says"), WRONG)
def test_what_cannot_be_taken_is_named_with_value_and_bound(visitor, change, name, says):
    errors = problem_of(visitor.post("rate-check/", {**GOOD, **change}), 422)["errors"]
    assert says in " ".join(errors[name]), errors


def test_a_bad_row_is_named_by_its_place(visitor):
    rows = [dict(GOOD) for _ in range(30)]
    rows[17]["speed"] = -1
    rows[4]["pressure"] = "2 bar"
    rows[29]["speeed"] = 12
    errors = problem_of(visitor.post("rate-check/", {"settings": rows}), 422)["errors"]
    assert set(errors) == {
        "settings.17.speed",
        "settings.4.known_pressure",
        "settings.29.speeed",
    }


def test_a_row_that_is_no_object_is_named(visitor):
    errors = problem_of(visitor.post("rate-check/", {"settings": [GOOD, 7, None]}), 422)["errors"]
    assert set(errors) == {"settings.1", "settings.2"}


@pytest.mark.parametrize("many", [[], {}, None, "x", 7])
def test_settings_that_are_no_list_are_refused(visitor, many):
    errors = problem_of(visitor.post("rate-check/", {"settings": many}), 422)["errors"]
    assert errors == {"settings": [f"Give a list of 1 to {MAX_ROWS} objects."]}


def test_a_list_as_the_body_is_refused(visitor):
    assert list(problem_of(visitor.post("rate-check/", [GOOD]), 422)["errors"]) == ["body"]


def test_beside_settings_there_is_only_the_unit(visitor):
    body = {"settings": [GOOD], "speed": 12}
    assert list(problem_of(visitor.post("rate-check/", body), 422)["errors"]) == ["speed"]


def test_a_file_that_is_wrong_throughout_is_not_spelled_out(visitor):
    rows = [{**GOOD, "speed": -1}] * 5000
    errors = problem_of(visitor.post("rate-check/", {"settings": rows}), 422)["errors"]
    assert len(errors) == 101
    assert errors["settings"] == ["4900 more are wrong; mend these first."]


# --- many rows -----------------------------------------------------------------------------------


def some_rows(count: int) -> list[dict[str, Any]]:
    dice = random.Random(20250621)
    return [
        {
            "known_flow": dice.uniform(0.4, 3.0),
            "known_pressure": 300,
            "exponent": 0.5,
            "pressure": dice.uniform(150, 600),
            "line_loss": dice.uniform(0, 20),
            "speed": dice.uniform(6, 25),
            "spacing": 50,
            "density": dice.uniform(1.0, 1.35),
            "duty": dice.uniform(40, 100),
            "flow_accuracy": 2,
            "pressure_accuracy": 10,
            "speed_accuracy": 0.2,
            "spacing_accuracy": 1,
        }
        for _ in range(count)
    ]


def test_ten_thousand_rows_come_back_in_order_each_as_if_alone(visitor):
    rows = some_rows(MAX_ROWS)
    results = check(visitor, {"settings": rows})["results"]
    assert len(results) == MAX_ROWS
    for place in (0, 1, 4711, MAX_ROWS - 1):
        row = rows[place]
        alone = delivered(
            settings=Settings(
                known_flow_l_min=row["known_flow"],
                known_at_kpa=300.0,
                exponent=0.5,
                gauge_kpa=row["pressure"],
                line_loss_kpa=row["line_loss"],
                speed_km_h=row["speed"],
                spacing_cm=50.0,
                specific_gravity=row["density"],
                duty=row["duty"] / 100,
            ),
            uncertainties=Uncertainties(
                flow=0.02 / ROOT_3,
                pressure_kpa=10 / ROOT_3,
                speed=0.2 / row["speed"] / ROOT_3,
                spacing=0.01 / ROOT_3,
                specific_gravity=0.0,
                duty=0.0,
                exponent=0.03 / ROOT_3,
            ),
        )
        assert results[place]["delivered"] == pytest.approx(alone.rate_l_ha, rel=1e-12)
        assert results[place]["expanded"] == pytest.approx(alone.expanded_l_ha, rel=1e-12)


def test_one_row_too_many_is_refused(visitor):
    body = {"settings": [GOOD] * (MAX_ROWS + 1)}
    assert "settings" in problem_of(visitor.post("rate-check/", body), 422)["errors"]


def test_rows_may_differ_in_what_they_say(visitor):
    found = check(
        visitor,
        {
            "unit": "gal/ac",
            "settings": [
                {**GOOD, "planned": 100},
                {**GOOD, "label_max": "12 gal/ac"},
                {**GOOD, "known_pressure": "40 psi", "pressure": "60 psi", "label_min": 200},
                {**GOOD, "speed": "7.5 mph", "speed_accuracy": "2 %", "density": "1.28 SG"},
            ],
        },
    )
    plan, high, low, bare = found["results"]
    assert (plan["planned"], plan["label"], plan["nozzle_pressure_kpa"]) == (AGREES, None, None)
    assert (high["planned"], high["label"]) == (None, AGREES)
    assert low["label"] == OUTSIDE
    assert low["nozzle_pressure_kpa"] == pytest.approx(413.685, abs=0.001)
    assert bare["label"] is bare["planned"] is None
    assert found["assumed"]["pressure_accuracy"] == "20 kPa"


def test_every_result_is_plain_json(visitor):
    response = visitor.post("rate-check/", {"settings": some_rows(50)})
    assert json.loads(response.content, parse_constant=lambda name: pytest.fail(name))


def test_the_check_is_the_same_for_everybody(visitor, as_helper):
    assert check(as_helper, GOOD) == check(visitor, GOOD)
