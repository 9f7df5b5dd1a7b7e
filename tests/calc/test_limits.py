"""The decision with a guard band, [JCGM-106] 8.3; the 5 and 10 % are common practice, no source."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from calc.errors import OutOfRange
from calc.limits import (
    CODES,
    OUTCOMES,
    Outcome,
    judge_target,
    judge_target_array,
    judge_within,
    judge_within_array,
    verdict_target,
    verdict_within,
)

AGREES, DISAGREES, UNDECIDED = Outcome.AGREES, Outcome.DISAGREES, Outcome.UNDECIDED

number = st.floats(min_value=-1e6, max_value=1e6)
amount = st.floats(min_value=0.0, max_value=1e6)


@pytest.mark.parametrize(
    ("value", "expanded", "outcome"),
    [
        (100.0, 5.0, AGREES),
        (95.0, 5.0, AGREES),  # the interval ends on the limit, which is allowed
        (105.0, 5.0, AGREES),
        (94.9, 5.0, UNDECIDED),
        (105.1, 5.0, UNDECIDED),
        (100.0, 20.0, UNDECIDED),  # the interval covers both limits
        (85.0, 5.0, UNDECIDED),
        (84.9, 5.0, DISAGREES),
        (115.1, 5.0, DISAGREES),
        (110.0, 0.0, AGREES),
        (110.001, 0.0, DISAGREES),
    ],
)
def test_interval_against_limits_of_90_and_110(value, expanded, outcome):
    assert judge_within(value=value, expanded=expanded, low=90.0, high=110.0) is outcome


def test_a_missing_limit_does_not_bind():
    assert judge_within(value=1e9, expanded=0.0, low=90.0, high=None) is AGREES
    assert judge_within(value=-1e9, expanded=0.0, low=None, high=110.0) is AGREES
    assert judge_within(value=89.0, expanded=0.0, low=90.0, high=None) is DISAGREES


def test_a_label_limit_has_no_tolerance():
    # A thousandth of a percent over is over.
    assert judge_within(value=2.00002, expanded=0.0, low=None, high=2.0) is DISAGREES


def test_rounding_of_doubles_is_not_a_breach():
    # 0.1 + 0.2 is one bit above 0.3.
    assert judge_within(value=0.1 + 0.2, expanded=0.0, low=None, high=0.3) is AGREES
    assert judge_within(value=-(0.1 + 0.2), expanded=0.0, low=-0.3, high=None) is AGREES


def test_outcomes_read_as_words():
    assert [str(outcome) for outcome in Outcome] == [
        "agrees",
        "does not agree",
        "cannot be decided at this accuracy",
    ]
    assert {code: outcome for outcome, code in CODES.items()} == OUTCOMES


@given(value=number, expanded=amount, low=number, width=amount, extra=amount)
def test_more_uncertainty_never_turns_one_answer_into_the_other(value, expanded, low, width, extra):
    before = judge_within(value=value, expanded=expanded, low=low, high=low + width)
    after = judge_within(value=value, expanded=expanded + extra, low=low, high=low + width)
    assert after in (before, UNDECIDED)


@given(
    rows=st.lists(st.tuples(number, amount, number, amount), min_size=1, max_size=20),
    low_open=st.booleans(),
)
def test_array_answers_as_the_scalar_does(rows, low_open):
    value, expanded, low, width = (np.array(column) for column in zip(*rows, strict=True))
    high = low + width
    codes = judge_within_array(
        value=value, expanded=expanded, low=None if low_open else low, high=high
    )
    assert codes.dtype == np.int8
    for code, v, u, least, most in zip(codes, value, expanded, low, high, strict=True):
        scalar = judge_within(
            value=float(v),
            expanded=float(u),
            low=None if low_open else float(least),
            high=float(most),
        )
        assert OUTCOMES[int(code)] is scalar


def test_infinite_limits_in_an_array_mark_rows_without_one():
    codes = judge_within_array(
        value=np.array([50.0, 150.0]),
        expanded=0.0,
        low=np.array([-math.inf, 90.0]),
        high=np.array([110.0, math.inf]),
    )
    assert codes.tolist() == [1, 1]


def test_array_with_a_lower_limit_alone():
    codes = judge_within_array(
        value=np.array([89.0, 90.5, 92.0]), expanded=1.0, low=90.0, high=None
    )
    assert codes.tolist() == [0, 0, 1]


@pytest.mark.parametrize(
    ("used", "expanded", "outcome", "look_again"),
    [
        (104.0, 1.0, AGREES, False),
        (105.0, 1.0, AGREES, False),
        (106.0, 1.0, AGREES, True),
        (94.0, 1.0, AGREES, True),
        (109.5, 1.0, UNDECIDED, True),
        (112.0, 1.0, DISAGREES, True),
        (103.0, 9.0, UNDECIDED, False),
        (110.0, 0.0, AGREES, True),
    ],
)
def test_target_of_100_with_five_and_ten_percent(used, expanded, outcome, look_again):
    judged = judge_target(value=used, expanded=expanded, target=100.0)
    assert (judged.outcome, judged.look_again) == (outcome, look_again)
    assert judged.deviation == pytest.approx(used / 100.0 - 1.0)


@given(
    rows=st.lists(
        st.tuples(st.floats(0.0, 1e4), st.floats(0.0, 1e3), st.floats(0.01, 1e4)),
        min_size=1,
        max_size=20,
    )
)
def test_target_array_answers_as_the_scalar_does(rows):
    value, expanded, target = (np.array(column) for column in zip(*rows, strict=True))
    judged = judge_target_array(value=value, expanded=expanded, target=target)
    for row, (v, u, t) in enumerate(rows):
        # On the very edge, within the rounding noise, the two may round apart.
        edges = [abs(v - u - t * 0.9), abs(v + u - t * 0.9), abs(v - u - t * 1.1)]
        assume(min(*edges, abs(v + u - t * 1.1)) > 1e-9 * t)
        scalar = judge_target(value=v, expanded=u, target=t)
        assert OUTCOMES[int(judged.codes[row])] is scalar.outcome
        assert bool(judged.look_again[row]) is scalar.look_again
        assert judged.deviation[row] == scalar.deviation


def test_verdict_against_hard_limits_carries_what_it_stands_on():
    verdict = verdict_within(
        quantity="carrier rate",
        value=146.0,
        unit="L/ha",
        expanded=5.5,
        low=None,
        high=150.0,
        basis="label",
    )
    assert verdict.outcome is UNDECIDED
    assert (verdict.low, verdict.high, verdict.tolerance) == (None, 150.0, None)
    assert (verdict.quantity, verdict.unit, verdict.basis) == ("carrier rate", "L/ha", "label")
    assert not verdict.look_again
    with pytest.raises(AttributeError):
        verdict.value = 140.0


def test_verdict_against_a_target_shows_its_limits_and_tolerance():
    verdict = verdict_target(
        quantity="volume used",
        value=108.0,
        unit="L",
        expanded=1.0,
        target=100.0,
        basis="common practice, no source",
    )
    assert verdict.outcome is AGREES
    assert verdict.look_again
    assert (verdict.low, verdict.high) == (pytest.approx(90.0), pytest.approx(110.0))
    assert verdict.tolerance == 0.10


def test_refuses_a_value_that_is_not_a_number():
    with pytest.raises(OutOfRange, match=r"^value is nan; it must be finite"):
        judge_within(value=math.nan, expanded=0.0, low=0.0, high=1.0)
    with pytest.raises(OutOfRange, match=r"^value is inf; it must be finite"):
        judge_within_array(value=np.array([0.0, math.inf]), expanded=0.0, low=0.0, high=1.0)


def test_refuses_a_negative_uncertainty():
    with pytest.raises(OutOfRange, match=r"^expanded is -1.0; it must be zero or more"):
        judge_within(value=0.0, expanded=-1.0, low=0.0, high=1.0)
    with pytest.raises(OutOfRange, match=r"^expanded is -1.0; it must be zero or more"):
        judge_target_array(value=np.array([1.0]), expanded=-1.0, target=1.0)


@pytest.mark.parametrize("judge", [judge_within, judge_within_array])
def test_refuses_to_judge_without_a_limit(judge):
    with pytest.raises(OutOfRange, match=r"^high is None; it must be given if low is not"):
        judge(value=0.0, expanded=0.0, low=None, high=None)


def test_refuses_limits_in_the_wrong_order():
    with pytest.raises(OutOfRange, match=r"^low is 2.0; it must be not above high = 1.0"):
        judge_within(value=0.0, expanded=0.0, low=2.0, high=1.0)
    with pytest.raises(OutOfRange, match=r"^low is 3.0; it must be not above high = 2.0"):
        judge_within_array(
            value=0.0, expanded=0.0, low=np.array([1.0, 3.0]), high=np.array([2.0, 2.0])
        )


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_refuses_a_limit_that_is_not_a_number(bad):
    with pytest.raises(OutOfRange, match=rf"^low is {bad}; it must be finite"):
        judge_within(value=0.0, expanded=0.0, low=bad, high=None)
    with pytest.raises(OutOfRange, match=rf"^high is {bad}; it must be finite"):
        judge_within(value=0.0, expanded=0.0, low=None, high=bad)


@pytest.mark.parametrize("name", ["low", "high"])
def test_refuses_a_limit_in_an_array_that_is_not_a_number(name):
    limits = {"low": None, "high": None, name: np.array([1.0, math.nan])}
    with pytest.raises(OutOfRange, match=rf"^{name} is nan; it must be a number; infinite where"):
        judge_within_array(value=np.zeros(2), expanded=0.0, **limits)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_refuses_a_target_that_is_not_positive(bad):
    with pytest.raises(OutOfRange, match=rf"^target is {bad}; it must be positive and finite"):
        judge_target(value=1.0, expanded=0.0, target=bad)
    with pytest.raises(OutOfRange, match=rf"^target is {bad}; it must be positive and finite"):
        judge_target_array(value=np.ones(1), expanded=0.0, target=bad)


@pytest.mark.parametrize("disagree", [0.01, math.nan, math.inf])
def test_refuses_fractions_in_the_wrong_order(disagree):
    with pytest.raises(
        OutOfRange, match=rf"^disagree is {disagree}; it must be look_again = 0.05 or more"
    ):
        judge_target(value=1.0, expanded=0.0, target=1.0, disagree=disagree)


def test_refuses_a_negative_look_again():
    with pytest.raises(OutOfRange, match=r"^look_again is -0.1; it must be zero or more"):
        judge_target(value=1.0, expanded=0.0, target=1.0, look_again=-0.1)
