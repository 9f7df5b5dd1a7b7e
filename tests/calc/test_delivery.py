"""What the rig delivers: against extension examples, the parts it is made of, and a simulation."""

import math
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.coverage import delivered_rate_l_ha
from calc.delivery import (
    Settings,
    Uncertainties,
    amount_used_verdict,
    caught_flow_verdict,
    check_settings,
    delivered,
    field_efficiency_verdict,
    product_rate,
    travelled_area_verdict,
)
from calc.errors import OutOfRange
from calc.flow import flow_at_pressure, nozzle_pressure_kpa, solution_flow_l_min
from calc.limits import Outcome
from calc.uncertainty import worst_case
from calc.units import convert
from calc.verdict import VERDICTS, Verdict, judge_rate
from tests.calc.vectors import Row, check, ids

PLAIN = Settings(
    known_flow_l_min=1.2,
    known_at_kpa=300.0,
    exponent=0.5,
    gauge_kpa=300.0,
    line_loss_kpa=0.0,
    speed_km_h=10.0,
    spacing_cm=50.0,
    specific_gravity=1.0,
    duty=1.0,
)
NAMES = [field.name for field in fields(Settings)]
EXACT = Uncertainties(
    flow=0.0, pressure_kpa=0.0, speed=0.0, spacing=0.0, specific_gravity=0.0, duty=0.0
)
TYPICAL = Uncertainties(
    flow=0.01, pressure_kpa=8.0, speed=0.01, spacing=0.005, specific_gravity=0.0, duty=0.0
)

settings_rows = st.fixed_dictionaries(
    {
        "known_flow_l_min": st.floats(0.3, 8.0),
        "known_at_kpa": st.floats(200.0, 400.0),
        "exponent": st.floats(0.45, 0.55),
        "gauge_kpa": st.floats(120.0, 800.0),
        "line_loss_kpa": st.floats(0.0, 100.0),
        "speed_km_h": st.floats(3.0, 35.0),
        "spacing_cm": st.floats(25.0, 100.0),
        "specific_gravity": st.floats(0.8, 1.9),
        "duty": st.floats(0.2, 1.0),
    }
)


def of(x: dict, name: str, default: float) -> float:
    return float(x.get(name, default))


def compute(row: Row) -> object:
    x = row.inputs
    if "used" in x:
        verdict = amount_used_verdict(
            quantity="volume used",
            unit="L",
            used=convert(x["used"], from_unit="gal", to_unit="L"),
            u_used=0.0,
            rate_per_ha=convert(x["rate"], from_unit="gal/ac", to_unit="L/ha"),
            u_rate=0.0,
            area_ha=convert(x["area"], from_unit="ac", to_unit="ha"),
            u_area=0.0,
        )
        if x["want"] == "outcome":
            return verdict.outcome
        return verdict.value / (x["rate"] * x["area"] * 3.785411784) - 1.0
    us = "spacing_in" in x
    settings = Settings(
        known_flow_l_min=convert(
            x["flow"], from_unit="gal/min" if us else "L/min", to_unit="L/min"
        ),
        known_at_kpa=convert(of(x, "at", 40.0), from_unit="psi", to_unit="kPa")
        if us
        else of(x, "at", 300.0),
        exponent=0.5,
        gauge_kpa=convert(of(x, "p", 40.0), from_unit="psi", to_unit="kPa")
        if us
        else of(x, "p", 300.0),
        line_loss_kpa=0.0,
        speed_km_h=convert(x["v"], from_unit="mph" if us else "km/h", to_unit="km/h"),
        spacing_cm=convert(x["spacing_in"], from_unit="in", to_unit="cm") if us else x["s"],
        specific_gravity=of(x, "sg", 1.0),
        duty=of(x, "duty", 1.0),
    )
    laid = delivered(settings=settings, uncertainties=EXACT)
    if row.unit in ("gal/ac", "L/ac"):
        return convert(laid.rate_l_ha, from_unit="L/ha", to_unit=row.unit)
    if row.unit == "L/min":
        return laid.nozzle_flow_l_min
    return laid.rate_l_ha


@pytest.mark.parametrize("example", ids("delivery"))
def test_published_example(example):
    check("delivery", example, {example: compute})


@given(row=settings_rows)
def test_delivered_is_the_chain_of_its_parts(row):
    laid = delivered(settings=Settings(**row), uncertainties=TYPICAL)
    pressure = nozzle_pressure_kpa(
        gauge_kpa=row["gauge_kpa"], line_loss_kpa=row["line_loss_kpa"], static_head_kpa=0.0
    )
    water = flow_at_pressure(
        rated_flow_l_min=row["known_flow_l_min"],
        rated_pressure_kpa=row["known_at_kpa"],
        pressure_kpa=pressure,
        exponent=row["exponent"],
    )
    flow = row["duty"] * solution_flow_l_min(
        water_flow_l_min=water, specific_gravity=row["specific_gravity"]
    )
    rate = delivered_rate_l_ha(
        flow_l_min=flow, speed_km_h=row["speed_km_h"], spacing_cm=row["spacing_cm"]
    )
    assert laid.nozzle_pressure_kpa == pytest.approx(pressure)
    assert laid.nozzle_flow_l_min == pytest.approx(flow)
    assert laid.rate_l_ha == pytest.approx(rate)
    assert laid.expanded_l_ha == pytest.approx(2.0 * laid.relative_u * rate)


def test_pressure_counts_by_its_exponent():
    # EX-UNC-02's gauge: 2.0 bar, u 11.547 kPa, so 5.77 % of pressure and 2.89 % of flow.
    laid = delivered(
        settings=replace(PLAIN, gauge_kpa=200.0),
        uncertainties=replace(EXACT, pressure_kpa=20.0 / math.sqrt(3.0)),
    )
    assert laid.relative_u == pytest.approx(0.5 * 0.1 / math.sqrt(3.0))


def test_uncertainty_agrees_with_a_simulation():
    random = np.random.default_rng(11)
    n = 400_000

    def draw(middle: float, relative: float) -> np.ndarray:
        return random.normal(middle, middle * relative, n)

    settings = replace(PLAIN, gauge_kpa=250.0, specific_gravity=1.28, duty=0.7)
    sure = Uncertainties(
        flow=0.02, pressure_kpa=9.0, speed=0.015, spacing=0.005, specific_gravity=0.01, duty=0.02
    )
    many = delivered(
        settings=Settings(
            known_flow_l_min=draw(1.2, 0.02),
            known_at_kpa=np.full(n, 300.0),
            exponent=np.full(n, 0.5),
            gauge_kpa=random.normal(250.0, 9.0, n),
            line_loss_kpa=np.zeros(n),
            speed_km_h=draw(10.0, 0.015),
            spacing_cm=draw(50.0, 0.005),
            specific_gravity=draw(1.28, 0.01),
            duty=draw(0.7, 0.02),
        ),
        uncertainties=EXACT,
    )
    spread = many.rate_l_ha.std() / many.rate_l_ha.mean()
    assert spread == pytest.approx(
        delivered(settings=settings, uncertainties=sure).relative_u, rel=0.01
    )


def test_a_catch_test_is_scaled_from_its_own_pressure():
    caught = replace(PLAIN, known_flow_l_min=1.26, known_at_kpa=250.0, gauge_kpa=250.0)
    laid = delivered(settings=caught, uncertainties=EXACT)
    assert laid.rate_l_ha == pytest.approx(60_000 * 1.26 / (10.0 * 50.0))
    raised = delivered(settings=replace(caught, gauge_kpa=1000.0), uncertainties=EXACT)
    assert raised.rate_l_ha == pytest.approx(2.0 * laid.rate_l_ha)


@given(row=settings_rows, factor=st.floats(1.01, 3.0))
def test_rate_goes_up_with_flow_and_pressure_and_down_with_speed_and_spacing(row, factor):
    here = delivered(settings=Settings(**row), uncertainties=EXACT).rate_l_ha
    for name, up in (
        ("known_flow_l_min", True),
        ("gauge_kpa", True),
        ("speed_km_h", False),
        ("spacing_cm", False),
    ):
        changed = Settings(**(row | {name: row[name] * factor}))
        there = delivered(settings=changed, uncertainties=EXACT).rate_l_ha
        assert (there > here) is up


def test_a_wrong_carrier_rate_moves_every_product_by_the_same_factor():
    right = delivered(settings=PLAIN, uncertainties=TYPICAL)
    slow = delivered(settings=replace(PLAIN, speed_km_h=8.0), uncertainties=TYPICAL)
    for concentration in (0.0125, 0.3):
        one, other = (
            product_rate(delivered=laid, concentration_per_l=concentration, u_concentration=0.02)
            for laid in (right, slow)
        )
        assert other.rate_per_ha / one.rate_per_ha == pytest.approx(1.25)


def test_product_rate_adds_the_uncertainty_of_the_mix():
    # 1 L of product in 80 L of mix, at 144 L/ha: 1.8 L/ha, by hand.
    laid = delivered(settings=PLAIN, uncertainties=EXACT)
    product = product_rate(delivered=laid, concentration_per_l=1 / 80, u_concentration=0.03)
    assert product.rate_per_ha == pytest.approx(1.8)
    assert product.relative_u == pytest.approx(0.03)
    assert product.expanded_per_ha == pytest.approx(0.108)


@given(
    rows=st.lists(
        st.tuples(settings_rows, st.floats(20.0, 200.0), st.floats(20.0, 600.0)),
        min_size=1,
        max_size=8,
    )
)
def test_many_settings_are_judged_as_each_alone(rows):
    columns = {name: np.array([row[0][name] for row in rows]) for name in NAMES}
    low = np.array([row[1] for row in rows])
    planned = np.array([row[2] for row in rows])
    found = check_settings(
        settings=Settings(**columns),
        uncertainties=TYPICAL,
        label_low_l_ha=low,
        label_high_l_ha=low * 2.0,
        planned_l_ha=planned,
    )
    for n, (row, least, plan) in enumerate(rows):
        laid = delivered(settings=Settings(**row), uncertainties=TYPICAL)
        assert found.delivered.rate_l_ha[n] == pytest.approx(laid.rate_l_ha, rel=1e-12)
        assert found.delivered.expanded_l_ha[n] == pytest.approx(laid.expanded_l_ha, rel=1e-12)
        value, u = float(found.delivered.rate_l_ha[n]), float(found.delivered.relative_u[n])
        ends = worst_case(estimate=value, sources=laid.sources)
        worst = dict(zip(("worst_low", "worst_high"), ends, strict=True))
        label = judge_rate(
            estimate=value, relative_u=u, low=least, high=least * 2.0, plan=None, **worst
        )
        target = judge_rate(estimate=value, relative_u=u, low=None, high=None, plan=plan, **worst)
        assert VERDICTS[int(found.label.codes[n])] is label.verdict
        assert VERDICTS[int(found.planned.codes[n])] is target.verdict


def test_what_was_not_asked_is_not_answered():
    found = check_settings(
        settings=PLAIN,
        uncertainties=TYPICAL,
        label_low_l_ha=None,
        label_high_l_ha=None,
        planned_l_ha=None,
    )
    assert (found.label, found.planned) == (None, None)


def test_one_label_limit_is_enough():
    for limits, code in (
        ({"label_low_l_ha": 100.0, "label_high_l_ha": None}, Verdict.AGREES),
        ({"label_low_l_ha": None, "label_high_l_ha": 100.0}, Verdict.BREACH),
    ):
        found = check_settings(settings=PLAIN, uncertainties=TYPICAL, planned_l_ha=None, **limits)
        assert VERDICTS[int(found.label.codes)] is code


def test_floats_give_floats():
    laid = delivered(settings=PLAIN, uncertainties=TYPICAL)
    numbers = [getattr(laid, field.name) for field in fields(laid) if field.name != "sources"]
    assert all(type(each) is float for each in [*numbers, *laid.sources.values(), laid.k])


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
@pytest.mark.parametrize(
    "name", ["known_flow_l_min", "known_at_kpa", "gauge_kpa", "speed_km_h", "spacing_cm"]
)
def test_refuses_a_setting_that_is_not_positive(name, bad):
    with pytest.raises(OutOfRange, match=rf"^{name} is {bad}; it must be positive and finite"):
        delivered(settings=replace(PLAIN, **{name: bad}), uncertainties=EXACT)


@pytest.mark.parametrize("name", NAMES)
def test_refuses_one_bad_row_among_many(name):
    column = {field: np.full(3, getattr(PLAIN, field)) for field in NAMES}
    column[name][1] = math.nan
    with pytest.raises(OutOfRange, match=rf"^{name} is nan; it must be"):
        check_settings(
            settings=Settings(**column),
            uncertainties=TYPICAL,
            label_low_l_ha=100.0,
            label_high_l_ha=None,
            planned_l_ha=None,
        )


@pytest.mark.parametrize(
    ("name", "bad", "bound"),
    [
        ("exponent", 0.3, "between 0.4 and 0.6"),
        ("line_loss_kpa", -1.0, "zero or more"),
        ("specific_gravity", 0.7, "between 0.75 and 1.95"),
        ("specific_gravity", 8.34, "between 0.75 and 1.95"),
        ("duty", 0.0, "positive"),
        ("duty", 1.1, "between 0 and 1"),
        ("duty", 60.0, "between 0 and 1"),
    ],
)
def test_refuses_a_setting_out_of_its_range(name, bad, bound):
    with pytest.raises(OutOfRange, match=rf"^{name} is {bad}; it must be {bound}"):
        delivered(settings=replace(PLAIN, **{name: bad}), uncertainties=EXACT)


def test_refuses_a_loss_that_leaves_no_pressure():
    with pytest.raises(OutOfRange, match=r"^gauge_kpa − line_loss_kpa is 0.0; it must be positive"):
        delivered(settings=replace(PLAIN, line_loss_kpa=300.0), uncertainties=EXACT)


@pytest.mark.parametrize(
    ("name", "named"),
    [
        ("flow", "u_flow"),
        ("pressure_kpa", "uncertainty of pressure_kpa"),
        ("speed", "u_speed"),
        ("spacing", "u_spacing"),
        ("specific_gravity", "u_specific_gravity"),
        ("duty", "u_duty"),
    ],
)
def test_refuses_a_negative_uncertainty(name, named):
    with pytest.raises(OutOfRange, match=rf"^{named} is -0.1; it must be zero or more"):
        delivered(settings=PLAIN, uncertainties=replace(EXACT, **{name: -0.1}))


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_refuses_a_concentration_that_is_not_positive(bad):
    laid = delivered(settings=PLAIN, uncertainties=EXACT)
    with pytest.raises(OutOfRange, match=rf"^concentration_per_l is {bad}; it must be positive"):
        product_rate(delivered=laid, concentration_per_l=bad, u_concentration=0.0)


USE = {
    "quantity": "product used",
    "unit": "L",
    "used": 40.0,
    "u_used": 0.01,
    "rate_per_ha": 2.0,
    "u_rate": 0.01,
    "area_ha": 20.0,
    "u_area": 0.0,
}


@pytest.mark.parametrize(
    ("used", "u", "outcome", "look_again"),
    [
        (40.0, 0.01, Outcome.AGREES, False),
        (42.5, 0.01, Outcome.AGREES, True),
        (43.5, 0.01, Outcome.UNDECIDED, True),
        (46.0, 0.01, Outcome.DISAGREES, True),
        (0.0, 0.01, Outcome.DISAGREES, True),
        (40.0, 0.06, Outcome.UNDECIDED, False),
    ],
)
def test_amount_used_against_rate_and_area(used, u, outcome, look_again):
    verdict = amount_used_verdict(**(USE | {"used": used, "u_used": u}))
    assert (verdict.outcome, verdict.look_again) == (outcome, look_again)
    assert (verdict.quantity, verdict.unit, verdict.basis) == (
        "product used",
        "L",
        "RECONCILE-5-10",
    )
    assert verdict.expanded == pytest.approx(2.0 * math.hypot(u, 0.01) * used)


@pytest.mark.parametrize(
    ("name", "bad", "bound"),
    [
        ("used", -1.0, "zero or more"),
        ("rate_per_ha", 0.0, "positive"),
        ("area_ha", math.nan, "positive"),
        ("u_used", -0.1, "zero or more"),
    ],
)
def test_amount_used_refuses(name, bad, bound):
    with pytest.raises(OutOfRange, match=rf" is {bad}; it must be {bound}"):
        amount_used_verdict(**(USE | {name: bad}))


TRAVEL = {
    "distance_m": 8000.0,
    "u_distance": 0.005,
    "swath_m": 25.0,
    "u_swath": 0.005,
    "area_ha": 20.0,
    "u_area": 0.002,
}


@pytest.mark.parametrize(
    ("area", "outcome", "look_again"),
    [
        (20.0, Outcome.AGREES, False),
        (18.8, Outcome.AGREES, True),
        (18.2, Outcome.UNDECIDED, True),
        (15.0, Outcome.DISAGREES, True),
    ],
)
def test_distance_times_swath_against_the_area_of_the_record(area, outcome, look_again):
    # 8 km of 25 m are 20 ha.
    verdict = travelled_area_verdict(**(TRAVEL | {"area_ha": area}))
    assert verdict.value == pytest.approx(20.0)
    assert (verdict.outcome, verdict.look_again) == (outcome, look_again)


@pytest.mark.parametrize("name", ["distance_m", "swath_m", "area_ha"])
def test_travelled_area_refuses_zero(name):
    with pytest.raises(OutOfRange, match=rf"^{name} is 0.0; it must be positive"):
        travelled_area_verdict(**(TRAVEL | {name: 0.0}))


WORK = {
    "area_ha": 20.0,
    "u_area": 0.002,
    "swath_m": 25.0,
    "u_swath": 0.005,
    "speed_km_h": 16.0,
    "u_speed": 0.01,
    "duration_min": 45.0,
    "u_duration": 0.01,
}


@pytest.mark.parametrize(
    ("minutes", "efficiency", "outcome", "look_again"),
    [
        (45.0, 0.667, Outcome.AGREES, False),
        (33.0, 0.909, Outcome.AGREES, True),
        (30.0, 1.0, Outcome.UNDECIDED, True),
        (25.0, 1.2, Outcome.DISAGREES, True),
        (90.0, 0.333, Outcome.AGREES, True),
    ],
)
def test_a_field_cannot_be_sprayed_faster_than_swath_times_speed(
    minutes, efficiency, outcome, look_again
):
    # 25 m at 16 km/h are 40 ha/h, so 20 ha take half an hour and no less.
    verdict = field_efficiency_verdict(**(WORK | {"duration_min": minutes}))
    assert verdict.value == pytest.approx(efficiency, abs=0.0005)
    assert (verdict.outcome, verdict.look_again) == (outcome, look_again)
    assert (verdict.low, verdict.high) == (None, 1.0)


@pytest.mark.parametrize("name", ["area_ha", "swath_m", "speed_km_h", "duration_min"])
def test_field_efficiency_refuses_zero(name):
    with pytest.raises(OutOfRange, match=rf"^{name} is 0.0; it must be positive"):
        field_efficiency_verdict(**(WORK | {name: 0.0}))


CATCH = {
    "caught_l_min": 1.2,
    "u_caught": 0.005,
    "pressure_kpa": 300.0,
    "u_pressure_kpa": 3.0,
    "rated_flow_l_min": 1.2,
    "rated_pressure_kpa": 300.0,
    "exponent": 0.5,
}


@pytest.mark.parametrize(
    ("changes", "outcome", "look_again"),
    [
        ({}, Outcome.AGREES, False),
        ({"caught_l_min": 1.28}, Outcome.AGREES, True),
        ({"caught_l_min": 1.32}, Outcome.UNDECIDED, True),
        ({"caught_l_min": 1.36}, Outcome.DISAGREES, True),
        ({"pressure_kpa": 1200.0, "caught_l_min": 2.4}, Outcome.AGREES, False),
        ({"u_pressure_kpa": 40.0}, Outcome.UNDECIDED, False),
    ],
)
def test_caught_against_rated_flow(changes, outcome, look_again):
    verdict = caught_flow_verdict(**(CATCH | changes))
    assert (verdict.outcome, verdict.look_again) == (outcome, look_again)


@pytest.mark.parametrize(
    ("name", "bad", "bound"),
    [
        ("caught_l_min", 0.0, "positive"),
        ("pressure_kpa", 0.0, "positive"),
        ("u_pressure_kpa", -1.0, "zero or more"),
        ("exponent", 0.7, "between 0.4 and 0.6"),
    ],
)
def test_caught_flow_refuses(name, bad, bound):
    with pytest.raises(OutOfRange, match=rf"^{name} is {bad}; it must be {bound}"):
        caught_flow_verdict(**(CATCH | {name: bad}))
