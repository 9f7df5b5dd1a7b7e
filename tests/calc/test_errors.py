"""The guards: they return the value itself, or refuse it with name, value and bound."""

import math

import numpy as np
import pytest

from calc.errors import OutOfRange, finite, not_negative, positive, whole, within

NAN, INF = math.nan, math.inf

GUARDS = {
    "finite": (lambda v: finite("speed_km_h", v), (-1.0, 0.0, 1e308), (NAN, INF, -INF)),
    "positive": (
        lambda v: positive("speed_km_h", v),
        (5e-324, 1.0, 1e308),
        (0.0, -0.0, -1.0, NAN, INF, -INF),
    ),
    "not_negative": (
        lambda v: not_negative("speed_km_h", v),
        (0.0, -0.0, 1.0, 1e308),
        (-5e-324, -1.0, NAN, INF, -INF),
    ),
    "within": (
        lambda v: within("speed_km_h", v, 1.0, 40.0, "km/h"),
        (1.0, 8.0, 40.0),
        (0.999, 40.001, -1.0, NAN, INF, -INF),
    ),
}
ACCEPTED = [(guard, value) for guard, (_, good, _) in GUARDS.items() for value in good]
REFUSED = [(guard, value) for guard, (_, _, bad) in GUARDS.items() for value in bad]


@pytest.mark.parametrize(("guard", "value"), ACCEPTED)
def test_a_guard_returns_a_float_itself(guard: str, value: float) -> None:
    assert GUARDS[guard][0](value) is value


@pytest.mark.parametrize("guard", GUARDS)
def test_a_guard_returns_an_array_itself(guard: str) -> None:
    check, good, _ = GUARDS[guard]
    array = np.array(good)
    assert check(array) is array


@pytest.mark.parametrize("guard", GUARDS)
def test_a_guard_accepts_an_array_of_nothing(guard: str) -> None:
    assert GUARDS[guard][0](np.array([])).size == 0


@pytest.mark.parametrize(("guard", "value"), REFUSED)
def test_a_guard_refuses_a_float_by_name_and_value(guard: str, value: float) -> None:
    with pytest.raises(OutOfRange, match=rf"^speed_km_h is {value!r}; it must be ") as refusal:
        GUARDS[guard][0](value)
    assert refusal.value.argument == "speed_km_h"
    assert refusal.value.value is value


@pytest.mark.parametrize(("guard", "value"), REFUSED)
def test_a_guard_names_the_offending_element_of_an_array(guard: str, value: float) -> None:
    check, good, _ = GUARDS[guard]
    array = np.array([[good[0], good[1]], [value, good[2]]])
    with pytest.raises(OutOfRange, match=rf"^speed_km_h is {value!r}; it must be "):
        check(array)


@pytest.mark.parametrize(
    ("guard", "bound"),
    [
        ("finite", "finite"),
        ("positive", "positive and finite"),
        ("not_negative", "zero or more, and finite"),
        ("within", "between 1 and 40 km/h"),
    ],
)
def test_a_guard_says_what_is_allowed(guard: str, bound: str) -> None:
    with pytest.raises(OutOfRange, match=rf"it must be {bound}\.$") as refusal:
        GUARDS[guard][0](NAN)
    assert refusal.value.bound == bound


def test_a_bound_without_a_unit_ends_after_the_number() -> None:
    with pytest.raises(OutOfRange, match=r"^duty is 1\.5; it must be between 0 and 1\.$"):
        within("duty", 1.5, 0.0, 1.0, "")


def test_a_numpy_scalar_is_named_as_a_plain_number() -> None:
    with pytest.raises(OutOfRange, match=r"^speed_km_h is -2\.0; it must be"):
        positive("speed_km_h", np.float64(-2.0))


def test_a_whole_number_of_things_passes() -> None:
    assert whole("nozzles", 3) == 3
    assert whole("interval_days", 0, at_least=0) == 0


@pytest.mark.parametrize("value", [0, -1, 1.5, 2.0, NAN, None])
def test_a_number_of_things_that_is_not_whole_is_refused(value: object) -> None:
    with pytest.raises(OutOfRange, match=rf"^nozzles is {value!r}; it must be a whole number, 1"):
        whole("nozzles", value)


def test_an_error_of_range_is_a_value_error() -> None:
    assert issubclass(OutOfRange, ValueError)
