"""The decision rule, [JCGM-106] 7 and 8 and [ILAC-G8] 4.2.3; the 5 and 10 % are common practice."""

import math
from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.errors import OutOfRange
from calc.limits import Outcome, judge_within
from calc.uncertainty import interval
from calc.verdict import (
    NOT_JUDGED,
    VERDICTS,
    Verdict,
    capability_index,
    conformance_probability,
    judge_rate,
    judge_rates,
)
from tests.calc.vectors import Row, check, ids

AGREES, LOOK_AGAIN, UNDECIDED, MISMATCH, BREACH = Verdict

rates = st.floats(0.5, 2000.0)
accuracies = st.floats(0.0, 0.2)


def zone(value: float, w: float, low: float | None, high: float | None) -> str:
    """The four answers of [ILAC-G8] 4.2.3, out of one comparison with a guard band and one without.

    The product needs no fourth answer by itself: it is the comparison of `calc.limits`, twice.
    """
    match judge_within(value=value, expanded=w, low=low, high=high):
        case Outcome.AGREES:
            return "pass"
        case Outcome.DISAGREES:
            return "fail"
    inside = judge_within(value=value, expanded=0.0, low=low, high=high) is Outcome.AGREES
    return "conditional pass" if inside else "conditional fail"


def first_estimate(reached: set[Verdict], **given: float | None) -> float:
    """Return by bisection the estimate from which upwards the verdict is one of `reached`."""
    low, high = given["high"], 2.0 * given["high"]
    for _ in range(60):
        middle = (low + high) / 2.0
        if judge_rate(estimate=middle, **given).verdict in reached:
            high = middle
        else:
            low = middle
    return high


def compute(row: Row) -> object:
    x = row.inputs
    low, high = x.get("low"), x.get("high")
    match x["want"]:
        case "zone":
            return zone(x["y"], x["w"], low, high)
        case "capability":
            return capability_index(low=low, high=high, standard=x["u"])
        case "probability" | "risk":
            p = conformance_probability(value=x["y"], standard=x["u"], low=low, high=high)
            return p if x["want"] == "probability" else 1.0 - p
        case "interval-low" | "interval-high":
            ends = interval(estimate=x["r"], relative_u=x["u"], k=x["k"])
            return ends[x["want"] == "interval-high"]
    rest = {"relative_u": x["u"], "low": low, "high": high, "plan": x["plan"]}
    match x["want"]:
        case "breach-from":
            return first_estimate({BREACH}, **rest)
        case "mismatch-from":
            return first_estimate({MISMATCH, BREACH}, **rest)
    judged = judge_rate(estimate=x["r"], **rest)
    return {
        "verdict": judged.verdict,
        "at": judged.at_limit,
        "beyond": judged.beyond,
        "beyond-probability": judged.probability,
        "off-plan": judged.off_plan,
    }[x["want"]]


@pytest.mark.parametrize("example", ids("verdict"))
def test_worked_example(example):
    check("verdict", example, {example: compute})


def judged(estimate: float, relative_u: float = 0.02, **changes: float | None):
    given = {"low": 100.0, "high": 200.0, "plan": 150.0, **changes}
    return judge_rate(estimate=estimate, relative_u=relative_u, **given)


def test_verdicts_read_as_words_from_mild_to_grave():
    assert [str(verdict) for verdict in VERDICTS] == [
        "agrees",
        "look again",
        "cannot be decided at this accuracy",
        "does not agree",
        "outside the label",
    ]


def test_the_probability_beyond_a_limit_agrees_with_a_simulation():
    # [JCGM-101]: what was read is 157 = truth · (1 + error), error normal with 2.5 %; how often is
    # the truth above 150?
    error = np.random.default_rng(3).normal(0.0, 0.025, 400_000)
    above = float((157.0 / (1.0 + error) > 150.0).mean())
    found = judge_rate(estimate=157.0, relative_u=0.025, low=None, high=150.0, plan=150.0)
    assert found.probability == pytest.approx(above, abs=0.001)


def test_a_plan_at_the_limit_that_is_met_exactly_agrees_and_says_so():
    found = judged(200.0, plan=200.0)
    assert (found.verdict, found.at_limit, found.beyond) == (AGREES, "high", 0.0)
    assert found.probability == pytest.approx(0.5)


def test_well_inside_the_label_nothing_is_said_of_its_limits():
    found = judged(150.0)
    assert (found.verdict, found.at_limit, found.beyond, found.probability) == (AGREES, *[None] * 3)
    assert found.off_plan == 0.0
    assert not found.coarse


def test_exact_knowledge_makes_the_limit_hard():
    # A thousandth of a percent over is over; the noise of doubles is not: 0.1 + 0.2 > 0.3.
    assert judged(200.002, relative_u=0.0, plan=200.0).verdict is BREACH
    assert judged(200.002, relative_u=0.0, plan=200.0).probability == 1.0
    found = judged(0.1 + 0.2, relative_u=0.0, low=None, high=0.3, plan=0.3)
    assert (found.verdict, found.at_limit) == (AGREES, None)


def test_what_is_gross_breaks_the_label_whatever_the_accuracy():
    for u in (0.0, 0.3, 5.0):
        assert judged(400.0, u, plan=200.0).verdict is BREACH
        assert judged(50.0, u, plan=100.0).verdict is BREACH
    assert judged(0.0, 5.0).verdict is BREACH
    assert judged(399.0, 5.0, plan=399.0).verdict is UNDECIDED
    assert judged(300.0, 5.0, plan=300.0, gross=1.5).verdict is BREACH


def test_beyond_the_limit_even_at_its_worst_case_breaks_the_label():
    # One rectangle of ± 20 % alone: u 11.5 %, and 1.96 u would reach to 22.6 %.
    u = 0.2 / math.sqrt(3.0)
    assert judged(244.0, u, plan=244.0).verdict is not BREACH
    assert judged(244.0, u, plan=244.0, worst_low=201.0, worst_high=300.0).verdict is BREACH
    assert judged(79.0, u, plan=79.0).verdict is not BREACH
    assert judged(79.0, u, plan=79.0, worst_low=70.0, worst_high=99.0).verdict is BREACH
    assert judged(79.0, u, plan=79.0, worst_low=70.0, worst_high=math.inf).verdict is not BREACH


def test_a_single_rate_is_marked_on_either_side_less_easily_than_one_limit():
    # At u = 2 % one limit is broken from 3.92 % on, a single rate from 4.48 %.
    assert judged(208.4, plan=200.0).verdict is BREACH
    assert judged(208.4, low=200.0, plan=200.0).verdict is AGREES
    assert judged(191.6, low=200.0, plan=200.0).verdict is AGREES
    assert judged(209.0, low=200.0, plan=200.0).verdict is BREACH
    assert judged(191.0, low=200.0, plan=200.0).verdict is BREACH


def test_of_two_limits_within_reach_the_nearer_is_named():
    assert judged(104.0, 0.03, low=100.0, high=105.0, plan=None).at_limit == "high"
    assert judged(101.0, 0.03, low=100.0, high=105.0, plan=None).at_limit == "low"


def test_beyond_the_yardstick_but_not_surely_beyond_the_limit_does_not_agree():
    assert judged(211.0, 0.03, plan=200.0).verdict is MISMATCH
    assert judged(94.0, 0.0333, plan=100.0).verdict is MISMATCH
    assert judged(209.0, 0.03, plan=200.0).verdict is AGREES


def test_a_coarse_rig_is_not_decided_until_the_estimate_is_far_off():
    # Coarse from u = 10 % / 3 on, where the capability index of plan ± 10 % falls below 1.5.
    assert capability_index(low=135.0, high=165.0, standard=150.0 * 0.1 / 3.0) == pytest.approx(1.5)
    assert not judged(150.0, 0.0333).coarse
    assert judged(150.0, 0.0334).coarse
    assert judged(150.0, 0.0334).verdict is UNDECIDED
    assert judged(170.0, 0.0334).verdict is MISMATCH
    # 1.645 · 4 % = 6.6 %: what a finer rig marks from 5 % on, a coarse one does not.
    assert judged(212.0, 0.04, plan=200.0).verdict is UNDECIDED
    assert judged(214.0, 0.04, plan=200.0).verdict is MISMATCH


def test_without_a_plan_a_coarse_rig_well_inside_the_label_agrees():
    assert judged(150.0, 0.05, plan=None).verdict is AGREES
    assert judged(150.0, 0.05, plan=None).off_plan is None
    assert judged(195.0, 0.05, plan=None).verdict is UNDECIDED


def test_without_a_label_the_plan_alone_decides():
    for estimate, verdict in ((104.0, AGREES), (106.0, LOOK_AGAIN), (111.0, MISMATCH)):
        assert judged(estimate, low=None, high=None, plan=100.0).verdict is verdict


def test_one_missing_limit_does_not_bind_even_where_nothing_is_known():
    assert judged(150.0, 0.9, low=None, plan=None).at_limit == "high"
    assert judged(1e6, 0.02, high=None, plan=1e6).verdict is AGREES
    assert judged(0.001, 0.02, low=None, plan=0.001).verdict is AGREES
    assert judged(0.0, 0.02, low=None, plan=None).verdict is AGREES
    assert judged(1.0, 1.0, low=None, high=None, plan=1.0).at_limit is None


def test_the_yardsticks_are_those_of_the_business():
    assert judged(155.0, look_again=0.03).verdict is AGREES  # 3.3 % is within 1.96 u
    assert judged(157.0, 0.01, look_again=0.03).verdict is LOOK_AGAIN
    assert judged(157.0, 0.01, look_again=0.03, off_plan=0.04).verdict is MISMATCH
    assert judged(157.0, 0.015, look_again=0.03, off_plan=0.04).coarse


@given(rate=rates, u=accuracies, step=st.floats(1.0, 3.0), single=st.booleans())
def test_farther_beyond_a_limit_is_never_milder(rate, u, step, single):
    high = 100.0
    low, plan = (high if single else 50.0), high
    near = judge_rates(estimate=high + rate, relative_u=u, low=low, high=high, plan=plan)
    far = judge_rates(estimate=high + rate * step, relative_u=u, low=low, high=high, plan=plan)
    assert far.codes >= near.codes
    below = np.array([100.0, 100.0 / step, 100.0 / step**2])
    codes = judge_rates(estimate=below, relative_u=u, low=100.0, high=None, plan=None).codes
    assert (np.diff(codes) >= 0).all()


@given(
    rate=rates,
    u=accuracies,
    low=st.floats(1.0, 500.0),
    width=st.floats(1.0, 3.0),
    plan=rates,
    power=st.integers(-30, 30),
)
def test_the_unit_does_not_matter(rate, u, low, width, plan, power):
    # By powers of two, so that no digit is lost.
    here = judge_rate(estimate=rate, relative_u=u, low=low, high=low * width, plan=plan)
    f = 2.0**power
    there = judge_rate(
        estimate=rate * f, relative_u=u, low=low * f, high=low * width * f, plan=plan * f
    )
    assert here == there


@given(
    rows=st.lists(
        st.tuples(
            rates,
            accuracies,
            st.one_of(st.none(), st.floats(1.0, 500.0)),
            st.one_of(st.none(), st.floats(1.0, 3.0)),
            st.one_of(st.none(), rates),
        ),
        min_size=1,
        max_size=12,
    )
)
def test_many_rates_are_judged_as_each_alone(rows):
    lows = [low for _, _, low, _, _ in rows]
    highs = [None if width is None else (low or 100.0) * width for _, _, low, width, _ in rows]
    plans = [plan for *_, plan in rows]
    many = judge_rates(
        estimate=np.array([row[0] for row in rows]),
        relative_u=np.array([row[1] for row in rows]),
        low=np.array([-math.inf if low is None else low for low in lows]),
        high=np.array([math.inf if high is None else high for high in highs]),
        plan=np.array([math.nan if plan is None else plan for plan in plans]),
    )
    assert many.codes.dtype == many.at_limit.dtype == np.int8
    for n, (rate, u, *_) in enumerate(rows):
        if (lows[n], highs[n], plans[n]) == (None, None, None):
            assert many.codes[n] == NOT_JUDGED
            continue
        one = judge_rate(estimate=rate, relative_u=u, low=lows[n], high=highs[n], plan=plans[n])
        assert VERDICTS[many.codes[n]] is one.verdict
        assert {-1: "low", 0: None, 1: "high"}[int(many.at_limit[n])] == one.at_limit
        assert many.beyond[n] == pytest.approx(one.beyond or 0.0, nan_ok=True) or (
            one.beyond is None and math.isnan(many.beyond[n])
        )
        assert bool(many.coarse[n]) is one.coarse


def test_a_judgement_is_made_of_plain_values():
    found = judged(199.0)
    kinds = [type(getattr(found, field.name)) for field in fields(found)]
    assert kinds == [Verdict, str, float, float, float, bool]


@given(y=rates, u=st.floats(0.01, 100.0), low=rates, width=st.floats(0.0, 500.0))
def test_the_two_sides_of_a_tolerance_and_its_inside_add_up(y, u, low, width):
    inside = conformance_probability(value=y, standard=u, low=low, high=low + width)
    below = 1.0 - conformance_probability(value=y, standard=u, low=low, high=None)
    above = 1.0 - conformance_probability(value=y, standard=u, low=None, high=low + width)
    assert inside + below + above == pytest.approx(1.0)


def test_an_exact_value_conforms_or_does_not():
    assert conformance_probability(value=1.0, standard=0.0, low=None, high=1.0) == 1.0
    assert conformance_probability(value=1.1, standard=0.0, low=None, high=1.0) == 0.0


GOOD = {"estimate": 150.0, "relative_u": 0.02, "low": 100.0, "high": 200.0, "plan": 150.0}


@pytest.mark.parametrize(
    ("name", "bad", "bound"),
    [
        ("estimate", -1.0, "zero or more, and finite"),
        ("estimate", math.nan, "zero or more, and finite"),
        ("relative_u", -0.1, "zero or more, and finite"),
        ("relative_u", math.inf, "zero or more, and finite"),
        ("high", 0.0, "positive; infinite where there is no limit"),
        ("high", math.nan, "positive; infinite where there is no limit"),
        ("low", 300.0, "not above high = 200.0"),
        ("low", math.nan, "not above high = 200.0"),
        ("plan", 0.0, "positive and finite"),
        ("plan", math.nan, "positive and finite"),
        ("plan", math.inf, "positive and finite"),
        ("gross", 1.0, "more than 1, and finite"),
        ("gross", math.inf, "more than 1, and finite"),
        ("look_again", -0.1, "zero or more, and finite"),
        ("worst_low", -1.0, "zero or more, and finite"),
        ("worst_high", -1.0, "zero or more"),
        ("worst_high", math.nan, "zero or more"),
    ],
)
def test_refuses_an_argument_out_of_its_range(name, bad, bound):
    with pytest.raises(OutOfRange, match=rf"^{name} is {bad}; it must be {bound}"):
        judge_rate(**{**GOOD, name: bad})


def test_refuses_yardsticks_in_the_wrong_order():
    with pytest.raises(OutOfRange, match=r"^disagree is 0.04; it must be look_again = 0.05 or"):
        judge_rate(**GOOD, off_plan=0.04)


def test_refuses_to_judge_against_nothing():
    with pytest.raises(OutOfRange, match=r"^plan is None; it must be given if low and high are"):
        judge_rate(**{**GOOD, "low": None, "high": None, "plan": None})


def test_refuses_one_bad_row_among_many():
    with pytest.raises(OutOfRange, match=r"^low is 300.0; it must be not above high = 200.0"):
        judge_rates(**{**GOOD, "low": np.array([100.0, 300.0])})
    with pytest.raises(OutOfRange, match=r"^plan is -1.0; it must be positive"):
        judge_rates(**{**GOOD, "plan": np.array([math.nan, -1.0])})


def test_no_capability_without_a_tolerance_or_an_uncertainty():
    with pytest.raises(OutOfRange, match=r"^high − low is -1.0"):
        capability_index(low=2.0, high=1.0, standard=1.0)
    with pytest.raises(OutOfRange, match=r"^standard is 0.0"):
        capability_index(low=1.0, high=2.0, standard=0.0)
