"""Drift curves: [RAUTMANN-2001] with the coefficients of [FOCUS-B], and the [JKI-2010] table."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.drift import (
    LOW_CURVES,
    TALL_CURVE,
    Planting,
    buffer_for_limit,
    curve,
    drift_percent,
    mean_drift_percent,
    reduction_class,
    water_concentration_ug_l,
)
from calc.errors import OutOfRange
from tests.calc.vectors import Row, check, ids

applications = st.integers(1, 12)
distance = st.floats(1.0, 50.0)


def compute(row: Row) -> object:
    x = row.inputs
    match x["want"]:
        case "drift":
            return drift_percent(distance_m=x["z"], applications=int(x["n"]))
        case "mean":
            return mean_drift_percent(near_m=x["near"], far_m=x["far"])
        case "water":
            return water_concentration_ug_l(
                rate_g_ha=x["rate"], drift_percent=x["drift"], depth_m=x["depth"]
            )
        case "buffer":
            return buffer_for_limit(limit_percent=x["limit"], reduction=x["f"]).distance_m
        case "words":
            return buffer_for_limit(limit_percent=x["limit"], reduction=x["f"]).words
    raise AssertionError(row)


@pytest.mark.parametrize("example", ids("drift"))
def test_published_example(example):
    check("drift", example, {example: compute})


@given(n=applications, z=distance, f=st.floats(0.0, 0.95))
def test_a_buffer_is_where_the_curve_meets_the_limit(n, z, f):
    limit = drift_percent(distance_m=z, applications=n, reduction=f) * (1 + 1e-9)
    buffer = buffer_for_limit(limit_percent=limit, applications=n, reduction=f)
    if buffer.distance_m is None:
        assert z == pytest.approx(1.0)
    else:
        assert buffer.distance_m == pytest.approx(z, rel=1e-6)
        assert buffer.words == f"{buffer.distance_m:.1f} m"


@given(n=applications, near=st.floats(1.0, 40.0), width=st.floats(0.1, 10.0))
def test_mean_over_a_strip_lies_between_its_edges_and_equals_a_fine_sum(n, near, width):
    mean = mean_drift_percent(near_m=near, far_m=near + width, applications=n)
    z = near + width * (np.arange(2000) + 0.5) / 2000
    by_sum = float(drift_percent(distance_m=z, applications=n).mean())
    assert mean == pytest.approx(by_sum, rel=1e-4)
    assert (
        drift_percent(distance_m=near + width, applications=n)
        < mean
        < drift_percent(distance_m=near, applications=n)
    )


@given(z=st.floats(1.0, 49.0), f=st.floats(0.0, 0.9))
def test_farther_and_with_more_reduction_there_is_less(z, f):
    here = drift_percent(distance_m=z, reduction=f)
    assert drift_percent(distance_m=z + 1.0, reduction=f) < here
    assert drift_percent(distance_m=z, reduction=f + 0.05) < here


def test_eight_and_more_applications_share_a_curve():
    assert curve(applications=8) is curve(applications=15) is LOW_CURVES[-1]
    assert curve(applications=7) is LOW_CURVES[6]


def test_tall_plantings_drift_more():
    assert curve(planting=Planting.TALL) is TALL_CURVE
    # [FOCUS-B] table B.1: A·z^B with A 44.769, B −1.5643, at 3 m, by hand.
    assert drift_percent(distance_m=3.0, planting=Planting.TALL) == pytest.approx(
        44.769 * math.exp(-1.5643 * math.log(3.0))
    )


def test_mean_and_buffer_of_tall_plantings():
    assert mean_drift_percent(near_m=3.0, far_m=4.0, planting=Planting.TALL) > 5.0
    assert buffer_for_limit(limit_percent=1.0, planting=Planting.TALL).distance_m > 10.0


def test_arrays_give_arrays_and_floats_give_floats():
    assert drift_percent(distance_m=np.array([1.0, 2.0])).shape == (2,)
    assert type(drift_percent(distance_m=2.0)) is float
    column = np.array([1.0, 2.0])
    assert water_concentration_ug_l(
        rate_g_ha=100.0 * column, drift_percent=column, depth_m=column
    ).shape == (2,)


@pytest.mark.parametrize(
    ("reduction", "letter"),
    [
        (1.0, "A"),
        (0.99, "A"),
        (0.95, "B"),
        (0.90, "C"),
        (0.89, "D"),
        (0.75, "D"),
        (0.50, "E"),
        (0.25, "F"),
        (0.24, None),
        (0.0, None),
    ],
)
def test_reduction_class(reduction, letter):
    # [ISO-22369-1], from memory.
    assert reduction_class(reduction=reduction) == letter


@pytest.mark.parametrize("bad", [0.0, 0.99, 50.1, -1.0, math.nan, math.inf])
def test_refuses_a_distance_off_the_curve(bad):
    with pytest.raises(OutOfRange, match=rf"^distance_m is {bad}; it must be between 1 and 50 m"):
        drift_percent(distance_m=bad)
    with pytest.raises(OutOfRange, match=rf"^near_m is {bad}; it must be between 1 and 50 m"):
        mean_drift_percent(near_m=bad, far_m=50.0)
    with pytest.raises(OutOfRange, match=rf"^far_m is {bad}; it must be between 1 and 50 m"):
        mean_drift_percent(near_m=1.0, far_m=bad)


def test_refuses_a_strip_without_width():
    with pytest.raises(OutOfRange, match=r"^far_m is 3.0; it must be above near_m = 3.0"):
        mean_drift_percent(near_m=3.0, far_m=3.0)


def test_refuses_a_number_of_applications_without_a_curve():
    with pytest.raises(OutOfRange, match=r"^applications is 0; it must be 1 or more"):
        drift_percent(distance_m=3.0, applications=0)
    with pytest.raises(OutOfRange, match=r"^applications is 2; it must be 1 for vegetables above"):
        drift_percent(distance_m=3.0, applications=2, planting=Planting.TALL)


@pytest.mark.parametrize("bad", [-0.1, math.nan])
def test_refuses_a_negative_reduction(bad):
    with pytest.raises(OutOfRange, match=rf"^reduction is {bad}; it must be zero or more"):
        drift_percent(distance_m=3.0, reduction=bad)


def test_refuses_a_reduction_of_everything():
    with pytest.raises(OutOfRange, match=r"^reduction is 1.0; it must be below 1"):
        buffer_for_limit(limit_percent=0.5, reduction=1.0)


def test_refuses_a_limit_beyond_the_end_of_the_curve():
    with pytest.raises(
        OutOfRange, match=r"^limit_percent is 0.01; it must be 0.06019 % or more, where the c"
    ):
        buffer_for_limit(limit_percent=0.01)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_refuses_other_amounts_that_are_not_positive(bad):
    with pytest.raises(OutOfRange, match=rf"^limit_percent is {bad}; it must be positive"):
        buffer_for_limit(limit_percent=bad)
    with pytest.raises(OutOfRange, match=rf"^rate_g_ha is {bad}; it must be positive"):
        water_concentration_ug_l(rate_g_ha=bad, drift_percent=1.0, depth_m=0.3)
    with pytest.raises(OutOfRange, match=rf"^depth_m is {bad}; it must be positive"):
        water_concentration_ug_l(rate_g_ha=100.0, drift_percent=1.0, depth_m=bad)


def test_refuses_more_drift_than_was_applied():
    with pytest.raises(OutOfRange, match=r"^drift_percent is 101.0; it must be between 0 and 100"):
        water_concentration_ug_l(rate_g_ha=100.0, drift_percent=101.0, depth_m=0.3)


@pytest.mark.parametrize("bad", [-0.1, 1.1, math.nan])
def test_refuses_a_class_for_what_is_no_reduction(bad):
    with pytest.raises(OutOfRange, match=rf"^reduction is {bad}; it must be between 0 and 1"):
        reduction_class(reduction=bad)
