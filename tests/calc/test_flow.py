"""Flow, pressure, line loss, pulse width and density: published examples, laws and refusals."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc import flow
from calc.coverage import delivered_rate_l_ha, nozzle_flow_l_min
from calc.errors import OutOfRange
from calc.nozzle import SIZES, nominal_flow_l_min, size_of
from calc.units import convert
from tests.calc.contract import (
    NEGATIVE,
    NOT_FINITE,
    ZERO_OR_NEGATIVE,
    Contract,
    assert_broadcasts,
    assert_refused,
    assert_refuses_one_bad_element,
    named,
    refusals,
)
from tests.calc.vectors import Row, check, ids
from tests.walked import walked

FLOWS = st.floats(min_value=0.1, max_value=20)
PRESSURES = st.floats(min_value=50, max_value=1000)
EXPONENTS = st.floats(min_value=0.4, max_value=0.6)
GRAVITIES = st.floats(min_value=0.75, max_value=1.95)
FACTORS = st.floats(min_value=0.3, max_value=3)


def kpa(psi: float) -> float:
    return convert(psi, from_unit="psi", to_unit="kPa")


def flow_by_psi(row: Row) -> float:
    return flow.flow_at_pressure(
        rated_flow_l_min=row.inputs["flow"],
        rated_pressure_kpa=kpa(row.inputs["rated_psi"]),
        pressure_kpa=kpa(row.inputs["psi"]),
    )


def window_in_mph(row: Row) -> float:
    given = row.inputs
    window = flow.speed_window(
        rated_flow_l_min=convert(given["flow"], from_unit="gal/min", to_unit="L/min"),
        rated_pressure_kpa=kpa(given["rated_psi"]),
        low_kpa=kpa(given["low_psi"]),
        high_kpa=kpa(given["high_psi"]),
        rate_l_ha=convert(given["rate"], from_unit="gal/ac", to_unit="L/ha"),
        spacing_cm=convert(given["spacing"], from_unit="in", to_unit="cm"),
    )
    speed = window.slowest_km_h if given["find"] == "slowest" else window.fastest_km_h
    return convert(speed, from_unit="km/h", to_unit="mph")


def flow_change_percent(row: Row) -> float:
    changed = flow.flow_at_pressure(
        rated_flow_l_min=1.0,
        rated_pressure_kpa=300.0,
        pressure_kpa=300.0 * (1 + row.inputs["change"] / 100),
    )
    return 100 * (changed - 1.0)


def flow_or_pressure_for_rate(row: Row) -> float:
    given = row.inputs
    needed = nozzle_flow_l_min(
        rate_l_ha=given["rate"], speed_km_h=given["speed"], spacing_cm=given["spacing"]
    )
    if row.unit == "L/min":
        return needed
    return flow.pressure_for_flow(
        rated_flow_l_min=given["flow"], rated_pressure_kpa=given["rated_kpa"], flow_l_min=needed
    )


def travel(row: Row) -> float:
    result = flow.pulse_travel(
        speed_km_h=row.inputs["speed"],
        frequency_hz=row.inputs["hz"],
        duty=row.inputs["duty"],
    )
    return {"cycle": result.cycle_m, "on": result.on_m, "off": result.off_m}[row.inputs["find"]]


def pulse_trap(row: Row) -> object:
    given = row.inputs
    needed = nozzle_flow_l_min(
        rate_l_ha=given["rate"], speed_km_h=given["speed"], spacing_cm=given["spacing"]
    )
    if given["find"] == "flow":
        return needed
    if given["find"] == "size":
        nearest = min(SIZES.values(), key=lambda size: abs(size.iso_flow_l_min - needed))
        assert nearest.designation != given["printed_size"].removeprefix("no. ")
        return nearest.designation
    full = nominal_flow_l_min(
        size=size_of(given["size"].removeprefix("no. ")), pressure_kpa=given["kpa"]
    )
    return flow.duty_for_flow(flow_l_min=needed, full_flow_l_min=full)


def density(row: Row) -> float:
    given = row.inputs
    gravity = flow.specific_gravity(
        density_lb_gal=given["lb_gal"], water_lb_gal=given.get("water", flow.WATER_LB_GAL)
    )
    if row.unit == "SG":
        return gravity
    if row.unit == "CF":
        return flow.density_factor(specific_gravity=gravity)
    water = flow.water_equivalent_rate_l_ha(
        solution_rate_l_ha=convert(given["rate"], from_unit="gal/ac", to_unit="L/ha"),
        specific_gravity=gravity,
    )
    return convert(water, from_unit="L/ha", to_unit="gal/ac")


PUBLISHED = {
    "EX-PRES-01": lambda row: (
        flow.pressure_for_new_rate(
            pressure_kpa=200.0, rate_l_ha=100.0, new_rate_l_ha=100.0 * row.inputs["factor"]
        )
        / 200.0
    ),
    "EX-PRES-02": lambda row: (
        flow.pressure_for_new_speed(
            pressure_kpa=200.0, speed_km_h=8.0, new_speed_km_h=8.0 * row.inputs["factor"]
        )
        / 200.0
    ),
    "EX-PRES-03": flow_by_psi,
    "EX-PRES-04": window_in_mph,
    "EX-PRES-05": flow_change_percent,
    "EX-PRES-06": flow_or_pressure_for_rate,
    "EX-PWM-01": travel,
    "TRAP-PWM-C": pulse_trap,
    "EX-DENS-01": density,
    "EX-DENS-03": density,
    "TABLE-DENS": density,
    "TRAP-DENS-D": density,
}


@pytest.mark.parametrize("example", ids("flow"))
def test_a_published_example_comes_out(example: str) -> None:
    check("flow", example, PUBLISHED)


RATED = {"rated_flow_l_min": 1.58, "rated_pressure_kpa": 300.0}
RATED_REFUSED = dict.fromkeys(RATED, ZERO_OR_NEGATIVE)
NOT_AN_ORIFICE = {"exponent": (0.39, 0.61, *ZERO_OR_NEGATIVE)}
NOT_A_LINE = {"exponent": (1.74, 2.01, *ZERO_OR_NEGATIVE)}
NOT_A_DUTY = (1.01, *ZERO_OR_NEGATIVE)
NOT_A_GRAVITY = (0.74, 1.96, *ZERO_OR_NEGATIVE)

FORMULAS = [
    Contract(
        flow.flow_at_pressure,
        {**RATED, "pressure_kpa": 250.0, "exponent": 0.48},
        {**RATED_REFUSED, "pressure_kpa": ZERO_OR_NEGATIVE, **NOT_AN_ORIFICE},
        scalars=("exponent",),
    ),
    Contract(
        flow.pressure_for_flow,
        {**RATED, "flow_l_min": 1.2, "exponent": 0.48},
        {**RATED_REFUSED, "flow_l_min": ZERO_OR_NEGATIVE, **NOT_AN_ORIFICE},
        scalars=("exponent",),
    ),
    Contract(
        flow.pressure_for_new_rate,
        {"pressure_kpa": 250.0, "rate_l_ha": 100.0, "new_rate_l_ha": 120.0, "exponent": 0.5},
        {
            **dict.fromkeys(("pressure_kpa", "rate_l_ha", "new_rate_l_ha"), ZERO_OR_NEGATIVE),
            **NOT_AN_ORIFICE,
        },
        scalars=("exponent",),
    ),
    Contract(
        flow.pressure_for_new_speed,
        {"pressure_kpa": 250.0, "speed_km_h": 10.0, "new_speed_km_h": 12.0, "exponent": 0.5},
        {
            **dict.fromkeys(("pressure_kpa", "speed_km_h", "new_speed_km_h"), ZERO_OR_NEGATIVE),
            **NOT_AN_ORIFICE,
        },
        scalars=("exponent",),
    ),
    Contract(
        flow.speed_window,
        {
            **RATED,
            "low_kpa": 150.0,
            "high_kpa": 400.0,
            "rate_l_ha": 120.0,
            "spacing_cm": 50.0,
            "exponent": 0.5,
        },
        {
            **RATED_REFUSED,
            "low_kpa": (401.0, *ZERO_OR_NEGATIVE),
            "high_kpa": (149.0, *NOT_FINITE),
            "rate_l_ha": ZERO_OR_NEGATIVE,
            "spacing_cm": ZERO_OR_NEGATIVE,
            **NOT_AN_ORIFICE,
        },
        scalars=("exponent",),
    ),
    Contract(
        flow.static_head_kpa,
        {"rise_m": 1.0, "specific_gravity": 1.28},
        {"rise_m": (-20.1, 20.1, *NOT_FINITE), "specific_gravity": NOT_A_GRAVITY},
    ),
    Contract(
        flow.line_loss_coefficient,
        {"gauge_kpa": 300.0, "nozzle_kpa": 270.0, "boom_flow_l_min": 60.0, "exponent": 2.0},
        {
            "gauge_kpa": (269.0, *NOT_FINITE),
            "nozzle_kpa": (301.0, *ZERO_OR_NEGATIVE),
            "boom_flow_l_min": ZERO_OR_NEGATIVE,
            **NOT_A_LINE,
        },
        scalars=("exponent",),
    ),
    Contract(
        flow.line_loss_kpa,
        {"coefficient": 0.01, "boom_flow_l_min": 60.0, "exponent": 1.75},
        {"coefficient": NEGATIVE, "boom_flow_l_min": ZERO_OR_NEGATIVE, **NOT_A_LINE},
        scalars=("exponent",),
    ),
    Contract(
        flow.line_loss_share,
        {"gauge_kpa": 300.0, "loss_kpa": 30.0},
        {"gauge_kpa": (30.0, *ZERO_OR_NEGATIVE), "loss_kpa": (300.0, *NEGATIVE)},
    ),
    Contract(
        flow.line_loss_at_gauge_kpa,
        {"gauge_kpa": 300.0, "share": 0.1},
        {"gauge_kpa": ZERO_OR_NEGATIVE, "share": NEGATIVE},
    ),
    Contract(
        flow.nozzle_pressure_kpa,
        {"gauge_kpa": 300.0, "line_loss_kpa": 30.0, "static_head_kpa": 5.0},
        {"gauge_kpa": ZERO_OR_NEGATIVE, "line_loss_kpa": NEGATIVE},
    ),
    Contract(
        flow.pulsed_flow_l_min,
        {
            "duty": 0.7,
            **RATED,
            "line_kpa": 300.0,
            "valve_loss_kpa": 20.0,
            "exponent": 0.5,
        },
        {
            "duty": NOT_A_DUTY,
            **RATED_REFUSED,
            "line_kpa": (20.0, *ZERO_OR_NEGATIVE),
            "valve_loss_kpa": (300.0, *NEGATIVE),
            **NOT_AN_ORIFICE,
        },
        scalars=("exponent",),
    ),
    Contract(
        flow.duty_for_flow,
        {"flow_l_min": 1.2, "full_flow_l_min": 2.0},
        {"flow_l_min": (2.1, *ZERO_OR_NEGATIVE), "full_flow_l_min": (1.1, *ZERO_OR_NEGATIVE)},
    ),
    Contract(
        flow.pulse_travel,
        {"speed_km_h": 18.0, "frequency_hz": 10.0, "duty": 0.7},
        {
            "speed_km_h": ZERO_OR_NEGATIVE,
            "frequency_hz": ZERO_OR_NEGATIVE,
            "duty": NOT_A_DUTY,
        },
    ),
    Contract(
        flow.specific_gravity,
        {"density_lb_gal": 10.65, "water_lb_gal": 8.34},
        {
            "density_lb_gal": (6.2, 16.3, *ZERO_OR_NEGATIVE),
            "water_lb_gal": (8.29, 8.36, *ZERO_OR_NEGATIVE),
        },
        scalars=("water_lb_gal",),
    ),
    Contract(flow.density_factor, {"specific_gravity": 1.28}, {"specific_gravity": NOT_A_GRAVITY}),
    *(
        Contract(
            function,
            {name: 10.0, "specific_gravity": 1.28},
            {name: ZERO_OR_NEGATIVE, "specific_gravity": NOT_A_GRAVITY},
        )
        for function, name in (
            (flow.water_equivalent_rate_l_ha, "solution_rate_l_ha"),
            (flow.solution_rate_l_ha, "water_rate_l_ha"),
            (flow.solution_flow_l_min, "water_flow_l_min"),
        )
    ),
]


@walked(("function", "arguments", "name", "value"), refusals(FORMULAS))
def test_a_bad_argument_is_refused_by_name(function, arguments, name, value) -> None:
    assert_refused(function, arguments, name)


@pytest.mark.parametrize("contract", named(FORMULAS))
def test_one_bad_element_of_an_array_is_refused(contract: Contract) -> None:
    assert_refuses_one_bad_element(contract)


@pytest.mark.parametrize("contract", named(FORMULAS))
def test_arrays_give_what_floats_give(contract: Contract) -> None:
    assert_broadcasts(contract)


@given(rated=FLOWS, at=PRESSURES, pressure=PRESSURES, exponent=EXPONENTS)
def test_flow_and_pressure_undo_each_other(rated, at, pressure, exponent) -> None:
    point = {"rated_flow_l_min": rated, "rated_pressure_kpa": at, "exponent": exponent}
    there = flow.flow_at_pressure(**point, pressure_kpa=pressure)
    assert flow.pressure_for_flow(**point, flow_l_min=there) == pytest.approx(pressure, rel=1e-11)


@given(rated=FLOWS, at=PRESSURES, factor=FACTORS)
def test_the_flow_grows_with_the_root_of_the_pressure(rated, at, factor) -> None:
    result = flow.flow_at_pressure(
        rated_flow_l_min=rated, rated_pressure_kpa=at, pressure_kpa=at * factor**2
    )
    assert result == pytest.approx(rated * factor, rel=1e-12)


@given(pressure=PRESSURES, factor=FACTORS)
def test_a_new_rate_and_a_new_speed_ask_for_the_same_pressure(pressure, factor) -> None:
    by_rate = flow.pressure_for_new_rate(
        pressure_kpa=pressure, rate_l_ha=100.0, new_rate_l_ha=100.0 * factor
    )
    by_speed = flow.pressure_for_new_speed(
        pressure_kpa=pressure, speed_km_h=10.0, new_speed_km_h=10.0 * factor
    )
    assert by_rate == pytest.approx(pressure * factor**2, rel=1e-12)
    assert by_speed == pytest.approx(by_rate, rel=1e-12)


@given(rated=FLOWS, low=PRESSURES, ratio=st.floats(min_value=1, max_value=9))
def test_the_ends_of_the_speed_window_deliver_the_rate(rated, low, ratio) -> None:
    window = flow.speed_window(
        rated_flow_l_min=rated,
        rated_pressure_kpa=300.0,
        low_kpa=low,
        high_kpa=low * ratio,
        rate_l_ha=120.0,
        spacing_cm=50.0,
    )
    assert window.fastest_km_h / window.slowest_km_h == pytest.approx(math.sqrt(ratio), rel=1e-12)
    for speed, pressure in zip(window, (low, low * ratio), strict=True):
        delivered = delivered_rate_l_ha(
            flow_l_min=flow.flow_at_pressure(
                rated_flow_l_min=rated, rated_pressure_kpa=300.0, pressure_kpa=pressure
            ),
            speed_km_h=speed,
            spacing_cm=50.0,
        )
        assert delivered == pytest.approx(120.0, rel=1e-12)


def test_a_threefold_pressure_range_gives_a_window_of_only_1_73() -> None:
    # √(60/20); computed.
    window = flow.speed_window(
        rated_flow_l_min=1.5,
        rated_pressure_kpa=kpa(40.0),
        low_kpa=kpa(20.0),
        high_kpa=kpa(60.0),
        rate_l_ha=140.0,
        spacing_cm=50.8,
    )
    assert window.fastest_km_h / window.slowest_km_h == pytest.approx(1.73, abs=0.005)


def test_a_pressure_range_upside_down_is_refused() -> None:
    with pytest.raises(
        OutOfRange, match=r"^high_kpa - low_kpa is -250\.0; it must be zero or more"
    ):
        flow.speed_window(
            rated_flow_l_min=1.5,
            rated_pressure_kpa=300.0,
            low_kpa=400.0,
            high_kpa=150.0,
            rate_l_ha=140.0,
            spacing_cm=50.0,
        )


def test_a_metre_of_water_is_9_81_kpa() -> None:
    # Hydrostatics with the standard gravity, 9.80665 m/s².
    assert flow.static_head_kpa(rise_m=1.0, specific_gravity=1.0) == pytest.approx(9.81, abs=0.005)
    assert flow.static_head_kpa(rise_m=-1.0, specific_gravity=1.0) < 0.0


@given(
    loss=st.floats(min_value=0, max_value=100),
    boom=st.floats(min_value=5, max_value=400),
    factor=FACTORS,
    exponent=st.floats(min_value=1.75, max_value=2),
)
def test_the_line_loss_goes_through_its_reading_and_scales(loss, boom, factor, exponent) -> None:
    k = flow.line_loss_coefficient(
        gauge_kpa=300.0, nozzle_kpa=300.0 - loss, boom_flow_l_min=boom, exponent=exponent
    )
    there = flow.line_loss_kpa(coefficient=k, boom_flow_l_min=boom, exponent=exponent)
    assert there == pytest.approx(loss, rel=1e-9, abs=1e-9)
    elsewhere = flow.line_loss_kpa(coefficient=k, boom_flow_l_min=boom * factor, exponent=exponent)
    assert elsewhere == pytest.approx(there * factor**exponent, rel=1e-9, abs=1e-9)


def test_twice_the_flow_loses_four_times_the_pressure_unless_told_otherwise() -> None:
    k = flow.line_loss_coefficient(gauge_kpa=300.0, nozzle_kpa=290.0, boom_flow_l_min=60.0)
    assert flow.line_loss_kpa(coefficient=k, boom_flow_l_min=120.0) == pytest.approx(40.0)


@given(
    loss=st.floats(min_value=1, max_value=100),
    used=PRESSURES,
    gravity=st.floats(min_value=0.8, max_value=1.9),
)
def test_the_line_loss_is_a_fixed_share_whatever_pressure_and_density(loss, used, gravity) -> None:
    # The closed form against the two laws it comes from: loss and nozzle pressure that the same
    # flow makes, sought by bisection.
    share = flow.line_loss_share(gauge_kpa=300.0, loss_kpa=loss)
    of_line = loss / 100.0**2  # 300 on the gauge is a flow of 100
    of_nozzle = (300.0 - loss) / 100.0**2
    low, high = 0.0, 1000.0
    for _ in range(100):
        through = (low + high) / 2.0
        if gravity * (of_line + of_nozzle) * through**2 < used:
            low = through
        else:
            high = through
    lost = gravity * of_line * high**2
    assert flow.line_loss_at_gauge_kpa(gauge_kpa=used, share=share) == pytest.approx(lost)


def test_the_pressure_at_the_nozzle_is_what_line_and_rise_leave() -> None:
    pressure = flow.nozzle_pressure_kpa(gauge_kpa=300.0, line_loss_kpa=30.0, static_head_kpa=10.0)
    assert pressure == pytest.approx(260.0)


@pytest.mark.parametrize(("loss", "head"), [(300.0, 0.0), (250.0, 60.0), (0.0, math.nan)])
def test_a_line_that_leaves_no_pressure_is_refused(loss: float, head: float) -> None:
    with pytest.raises(OutOfRange, match=r"^the pressure at the nozzle is .*; it must be positive"):
        flow.nozzle_pressure_kpa(gauge_kpa=300.0, line_loss_kpa=loss, static_head_kpa=head)


def test_a_nozzle_that_reads_above_the_gauge_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"^gauge_kpa - nozzle_kpa is -20\.0; it must be zero"):
        flow.line_loss_coefficient(gauge_kpa=280.0, nozzle_kpa=300.0, boom_flow_l_min=60.0)


@given(rated=FLOWS, line=PRESSURES, duty=st.floats(min_value=0.2, max_value=1))
def test_the_pulsed_flow_is_linear_in_the_duty_cycle(rated, line, duty) -> None:
    point = {
        "rated_flow_l_min": rated,
        "rated_pressure_kpa": 300.0,
        "line_kpa": line,
        "valve_loss_kpa": 0.1 * line,
    }
    full = flow.pulsed_flow_l_min(duty=1.0, **point)
    mean = flow.pulsed_flow_l_min(duty=duty, **point)
    assert mean == pytest.approx(duty * full, rel=1e-12)
    assert flow.duty_for_flow(flow_l_min=mean, full_flow_l_min=full) == pytest.approx(duty)
    assert full == pytest.approx(
        flow.flow_at_pressure(
            rated_flow_l_min=rated, rated_pressure_kpa=300.0, pressure_kpa=line - 0.1 * line
        )
    )


def test_a_nozzle_too_small_for_the_flow_has_no_duty_cycle() -> None:
    with pytest.raises(OutOfRange, match=r"^flow_l_min / full_flow_l_min is 1\.5; it must be betw"):
        flow.duty_for_flow(flow_l_min=1.5, full_flow_l_min=1.0)


@given(duty=st.floats(min_value=0.2, max_value=1), speed=st.floats(min_value=1, max_value=40))
def test_on_and_off_make_up_the_cycle(duty, speed) -> None:
    travelled = flow.pulse_travel(speed_km_h=speed, frequency_hz=10.0, duty=duty)
    assert travelled.on_m + travelled.off_m == pytest.approx(travelled.cycle_m, rel=1e-12)
    assert travelled.cycle_m * 10.0 * 3600 == pytest.approx(1000 * speed, rel=1e-12)


def test_the_duty_cycles_named_are_in_order() -> None:
    assert flow.USUAL_DUTY[0] < flow.LEAST_DUTY_AIR_INDUCTION < flow.AIMED_DUTY[0]
    assert flow.AIMED_DUTY[1] < flow.USUAL_DUTY[1] == 1.0


@given(rate=st.floats(min_value=10, max_value=2000), gravity=GRAVITIES)
def test_water_and_solution_undo_each_other(rate, gravity) -> None:
    water = flow.water_equivalent_rate_l_ha(solution_rate_l_ha=rate, specific_gravity=gravity)
    solution = flow.solution_rate_l_ha(water_rate_l_ha=water, specific_gravity=gravity)
    assert solution == pytest.approx(rate, rel=1e-12)
    assert (water > rate) == (gravity > 1.0) or math.isclose(gravity, 1.0)


@given(water=FLOWS, gravity=GRAVITIES)
def test_the_flow_of_a_solution_goes_with_the_root_of_its_density(water, gravity) -> None:
    solution = flow.solution_flow_l_min(water_flow_l_min=water, specific_gravity=gravity)
    assert (water / solution) ** 2 == pytest.approx(gravity, rel=1e-12)


@given(low=PRESSURES, step=st.floats(min_value=1.001, max_value=3), exponent=EXPONENTS)
def test_more_pressure_gives_more_flow(low, step, exponent) -> None:
    pressures = np.array([low, low * step])
    flows = flow.flow_at_pressure(
        rated_flow_l_min=1.58, rated_pressure_kpa=300.0, pressure_kpa=pressures, exponent=exponent
    )
    assert flows[1] > flows[0]
