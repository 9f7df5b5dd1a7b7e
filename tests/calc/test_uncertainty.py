"""Propagation of uncertainty: [JCGM-100], and the worked rows of its table of vectors."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.errors import OutOfRange
from calc.limits import judge_within
from calc.uncertainty import (
    TYPICAL_HALF_WIDTHS,
    expanded,
    relative_from_absolute_accuracy,
    relative_from_relative_accuracy,
    relative_of_flow,
    relative_of_product_rate,
    relative_of_rate,
    relative_of_ratio,
    standard_from_half_width,
)
from tests.calc.vectors import Row, check, ids

small = st.floats(min_value=0.0, max_value=0.5)


def relative(row: Row) -> float:
    given = row.inputs
    if "nozzle" in given:
        flow = relative_of_flow(
            u_flow=relative_from_relative_accuracy(accuracy=given["nozzle"]),
            u_pressure=relative_from_absolute_accuracy(
                accuracy=given["accuracy"], value=given["gauge"]
            ),
            exponent=0.5,
        )
    else:
        flow = given["flow"]
    return relative_of_rate(
        u_flow=flow,
        u_speed=given["speed"],
        u_spacing=given.get("spacing", 0.0),
        u_duty=0.0,
        u_specific_gravity=0.0,
    )


def compute(row: Row) -> object:
    u = relative(row)
    if row.inputs["want"] == "relative":
        return u
    rate = row.inputs["rate"]
    big_u = expanded(standard=u) * rate
    if row.inputs["want"] == "expanded":
        return big_u
    return judge_within(
        value=rate, expanded=big_u, low=row.inputs.get("low"), high=row.inputs["high"]
    )


@pytest.mark.parametrize("example", ids("uncertainty"))
def test_worked_example(example):
    check("uncertainty", example, {example: compute})


def test_half_width_of_one_is_a_standard_uncertainty_of_one_over_root_three():
    # [JCGM-100] 4.3.7: a rectangular spread of half-width a has the variance a²/3.
    assert standard_from_half_width(half_width=1.0) == pytest.approx(0.57735, abs=5e-6)


def test_density_counts_half_because_the_rate_goes_with_its_square_root():
    assert relative_of_rate(
        u_flow=0.0, u_speed=0.0, u_spacing=0.0, u_duty=0.0, u_specific_gravity=0.04
    ) == pytest.approx(0.02)


def test_duty_counts_whole():
    assert relative_of_rate(
        u_flow=0.0, u_speed=0.0, u_spacing=0.0, u_duty=0.04, u_specific_gravity=0.0
    ) == pytest.approx(0.04)


def test_three_and_four_percent_make_five():
    assert relative_of_product_rate(u_rate=0.03, u_concentration=0.04) == pytest.approx(0.05)
    assert relative_of_ratio(u_above=0.03, u_below=0.04) == pytest.approx(0.05)


@given(flow=small, speed=small, spacing=small, duty=small, density=small)
def test_combined_is_at_least_the_largest_part_and_at_most_their_sum(
    flow, speed, spacing, duty, density
):
    u = relative_of_rate(
        u_flow=flow, u_speed=speed, u_spacing=spacing, u_duty=duty, u_specific_gravity=density
    )
    parts = [flow, speed, spacing, duty, density / 2]
    # The square of a number below 1e-162 is zero to a double.
    assert max(parts) * (1 - 1e-12) - 1e-160 <= u <= sum(parts) * (1 + 1e-12)


def test_propagation_agrees_with_a_simulation():
    # Independent of the formula: draw the inputs, compute the rate, look at its spread.
    random = np.random.default_rng(7)
    n = 400_000
    flow = random.normal(1.5, 0.03, n)
    pressure = random.normal(300.0, 12.0, n)
    speed = random.normal(10.0, 0.15, n)
    spacing = random.normal(50.0, 0.4, n)
    gravity = random.normal(1.28, 0.02, n)
    rate = 60_000 * flow * np.sqrt(pressure / 250.0) / (speed * spacing * np.sqrt(gravity))
    u = relative_of_rate(
        u_flow=relative_of_flow(u_flow=0.03 / 1.5, u_pressure=12.0 / 300.0, exponent=0.5),
        u_speed=0.15 / 10.0,
        u_spacing=0.4 / 50.0,
        u_duty=0.0,
        u_specific_gravity=0.02 / 1.28,
    )
    assert rate.std() / rate.mean() == pytest.approx(u, rel=0.01)


def test_arrays_give_arrays_and_floats_give_floats():
    column = np.array([0.01, 0.02])
    assert isinstance(relative_of_product_rate(u_rate=column, u_concentration=column), np.ndarray)
    assert type(relative_of_product_rate(u_rate=0.01, u_concentration=0.02)) is float
    assert type(expanded(standard=0.5)) is float


def test_typical_values_are_positive():
    assert all(value > 0 for value in TYPICAL_HALF_WIDTHS.values())


@pytest.mark.parametrize("bad", [-0.01, math.nan, math.inf])
@pytest.mark.parametrize(
    ("function", "name", "others"),
    [
        (standard_from_half_width, "half_width", {}),
        (relative_from_relative_accuracy, "accuracy", {}),
        (relative_from_absolute_accuracy, "accuracy", {"value": 1.0}),
        (relative_of_flow, "u_flow", {"u_pressure": 0.0, "exponent": 0.5}),
        (relative_of_flow, "u_pressure", {"u_flow": 0.0, "exponent": 0.5}),
        (relative_of_product_rate, "u_rate", {"u_concentration": 0.0}),
        (relative_of_product_rate, "u_concentration", {"u_rate": 0.0}),
        (relative_of_ratio, "u_above", {"u_below": 0.0}),
        (relative_of_ratio, "u_below", {"u_above": 0.0}),
        (expanded, "standard", {}),
    ],
)
def test_refuses_what_is_no_uncertainty(function, name, others, bad):
    with pytest.raises(OutOfRange, match=rf"^{name} is {bad}; it must be zero or more, and finite"):
        function(**{name: bad}, **others)


@pytest.mark.parametrize("name", ["u_flow", "u_speed", "u_spacing", "u_duty", "u_specific_gravity"])
def test_refuses_a_negative_part_of_the_rate(name):
    parts = dict.fromkeys(["u_flow", "u_speed", "u_spacing", "u_duty", "u_specific_gravity"], 0.0)
    with pytest.raises(OutOfRange, match=rf"^{name} is -0.1; it must be zero or more"):
        relative_of_rate(**{**parts, name: -0.1})


def test_refuses_a_reading_of_zero_under_an_absolute_accuracy():
    with pytest.raises(OutOfRange, match=r"^value is 0.0; it must be positive and finite"):
        relative_from_absolute_accuracy(accuracy=0.1, value=0.0)


def test_refuses_an_exponent_of_zero():
    with pytest.raises(OutOfRange, match=r"^exponent is 0.0; it must be positive"):
        relative_of_flow(u_flow=0.0, u_pressure=0.0, exponent=0.0)
