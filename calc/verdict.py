"""When a delivered rate is marked: the decision rule.

A rate is known to within a relative standard uncertainty u. It breaks the label if the truth lies
beyond a limit with at least 97.5 % probability, or so far beyond that no plausible error covers it.
It does not agree if the best estimate lies beyond the limit, or off the plan, by more than the
yardstick of the business. Only these two are marked: in the words of [ILAC-G8] 4.2.3 a fail, and a
conditional fail beyond the yardstick. Short of that the record agrees, and a quiet line says how
likely the truth is beyond the limit. A rig whose accuracy is too coarse for the yardstick cannot
be decided. The label has no tolerance, and whether to spray is for the label, local law and the
licensed applicator to say.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from statistics import NormalDist
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from calc.errors import FloatArray, Number, OutOfRange, finite, not_negative, positive
from calc.limits import DISAGREE, LOOK_AGAIN, ROUNDING, Outcome, fractions_in_order, judge_within

_NORMAL = NormalDist()

BEYOND_ONE_LIMIT = _NORMAL.inv_cdf(0.975)
"""Standard uncertainties beyond a limit at which it is broken with a probability of 97.5 %."""

BEYOND_SINGLE_RATE = _NORMAL.inv_cdf(1.0 - 0.025 / 2.0)
"""The same where the label names one single rate: the 2.5 % are shared by its two sides."""

COARSE_STEP = _NORMAL.inv_cdf(0.95)
"""Standard uncertainties beyond a limit that a coarse rig is given before it does not agree."""

LEAST_CAPABILITY = 1.5
"""Capability index of the rig for the plan ± its yardstick below which it is too coarse."""

GROSS = 2.0
"""Times a limit from which the estimate breaks it whatever its uncertainty."""


class Verdict(StrEnum):
    """What a delivered rate comes to, from mild to grave; the value is the word that is shown.

    BREACH and MISMATCH are marked; the others are said quietly.
    """

    AGREES = "agrees"
    LOOK_AGAIN = "look again"
    UNDECIDED = "cannot be decided at this accuracy"
    MISMATCH = "does not agree"
    BREACH = "outside the label"


VERDICTS = tuple(Verdict)
"""The verdict of each code of an array, 0 to 4, in the order of their gravity."""

NOT_JUDGED = -1
"""The code of a row that has neither a label limit nor a plan."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """One delivered rate, judged.

    Attributes: verdict; at_limit, the label's limit that the estimate passes or reaches within its
    uncertainty, "low" or "high", the nearer one of two, else None; beyond, the relative excess of
    the estimate over that limit [1], negative inside the label; probability that the truth is
    beyond it [1]; off_plan, estimate / plan − 1 [1], None without a plan; coarse, whether the
    accuracy is too coarse for the yardstick. beyond and probability are None where at_limit is.
    """

    verdict: Verdict
    at_limit: Literal["low", "high"] | None
    beyond: float | None
    probability: float | None
    off_plan: float | None
    coarse: bool


class Judgements(NamedTuple):
    """Many delivered rates, judged; arrays of one shape.

    Attributes: codes, int8, the place in `VERDICTS` or `NOT_JUDGED`; at_limit, int8, −1 low, 1
    high, 0 neither; beyond, the relative excess over the limit that at_limit names [1], NaN at 0;
    off_plan, estimate / plan − 1 [1], NaN without a plan; coarse, bool.
    """

    codes: npt.NDArray[np.int8]
    at_limit: npt.NDArray[np.int8]
    beyond: FloatArray
    off_plan: FloatArray
    coarse: npt.NDArray[np.bool_]


def judge_rate(
    *,
    estimate: float,
    relative_u: float,
    low: float | None,
    high: float | None,
    plan: float | None,
    look_again: float = LOOK_AGAIN,
    off_plan: float = DISAGREE,
    gross: float = GROSS,
    worst_low: float | None = None,
    worst_high: float | None = None,
) -> Judgement:
    """Return how a delivered rate stands to its label and its plan, all in one unit.

    Evidence that contradicts itself, and a plan outside the label, are for the caller to say.

    Args: estimate ≥ 0; relative_u, its relative standard uncertainty [1] ≥ 0; low and high of the
        label, None where it has no such limit, equal where it names one rate; plan, None if there
        is none; look_again and off_plan, fractions of the plan, the first also of the limits;
        gross > 1, times a limit; worst_low and worst_high, the estimate with every input at the
        end of its half-width, worst_high infinite if an input can be zero.
    Raises: OutOfRange if an argument is out of its range, low > high, or there is neither a limit
        nor a plan.
    Source: [JCGM-106] 7 and 8, [ILAC-G8] 4.2.3; the yardsticks are common practice, [TARGET-5-10].
    """
    if low is None and high is None and plan is None:
        raise OutOfRange("plan", plan, "given if low and high are not")
    if plan is not None:
        positive("plan", plan)
    found = judge_rates(
        estimate=estimate,
        relative_u=relative_u,
        low=low,
        high=high,
        plan=plan,
        look_again=look_again,
        off_plan=off_plan,
        gross=gross,
        worst_low=worst_low,
        worst_high=worst_high,
    )
    side = int(found.at_limit)
    limit = {-1: low, 0: None, 1: high}[side]
    probability = None
    if limit is not None:
        probability = 1.0 - conformance_probability(
            value=estimate,
            standard=relative_u * limit,
            low=limit if side < 0 else None,
            high=limit if side > 0 else None,
        )
    names: dict[int, Literal["low", "high"] | None] = {-1: "low", 0: None, 1: "high"}
    return Judgement(
        verdict=VERDICTS[int(found.codes)],
        at_limit=names[side],
        beyond=float(found.beyond) if side else None,
        probability=probability,
        off_plan=None if plan is None else float(found.off_plan),
        coarse=bool(found.coarse),
    )


def judge_rates(
    *,
    estimate: Number,
    relative_u: Number,
    low: Number | None,
    high: Number | None,
    plan: Number | None,
    look_again: float = LOOK_AGAIN,
    off_plan: float = DISAGREE,
    gross: float = GROSS,
    worst_low: Number | None = None,
    worst_high: Number | None = None,
) -> Judgements:
    """Return how each delivered rate stands to its label and its plan, all in one unit.

    Args: as for `judge_rate`, one row or one number for all rows. Within an array, 0 or −inf in
        `low`, +inf in `high` and NaN in `plan` mark a row without it.
    Raises: OutOfRange if an argument is out of its range or low > high.
    Source: as for `judge_rate`.
    """
    rate, u = np.asarray(estimate, np.float64), np.asarray(relative_u, np.float64)
    not_negative("estimate", rate)
    not_negative("relative_u", u)
    fractions_in_order(look_again, off_plan)
    if not 1.0 < gross < math.inf:
        raise OutOfRange("gross", gross, "more than 1, and finite")
    least, most = _label(low, high)
    planned = np.asarray(math.nan if plan is None else plan, np.float64)
    positive("plan", planned[~np.isnan(planned)])
    at_least = np.asarray(0.0 if worst_low is None else worst_low, np.float64)
    at_most = np.asarray(math.inf if worst_high is None else worst_high, np.float64)
    not_negative("worst_low", at_least)
    if not at_most.min(initial=math.inf) >= 0.0:
        raise OutOfRange("worst_high", float(at_most.min()), "zero or more")

    has_low, has_plan = least > 0.0, ~np.isnan(planned)
    with np.errstate(divide="ignore", invalid="ignore"):
        below = 1.0 - rate / least
    below = np.where(has_low, below, -math.inf)
    above = rate / most - 1.0
    off = rate / planned - 1.0
    far = np.abs(off)

    single = most <= least * (1.0 + ROUNDING)
    reach = np.where(single, BEYOND_SINGLE_RATE, BEYOND_ONE_LIMIT) * u
    coarse = u > off_plan / (2.0 * LEAST_CAPABILITY)
    step = np.where(coarse, np.maximum(look_again, COARSE_STEP * u), look_again)

    # The estimate is so many times beyond a limit: gross · high, or low / gross.
    beyond = np.maximum(above, below)
    breach = (
        (beyond > reach + ROUNDING)
        | (above >= gross - 1.0)
        | (below >= 1.0 - 1.0 / gross)
        | (at_least > most * (1.0 + ROUNDING))
        | (at_most < least * (1.0 - ROUNDING))
    )
    mismatch = (beyond > step + ROUNDING) | (far > off_plan + ROUNDING)
    at_high = rate * (1.0 + reach) > most * (1.0 + ROUNDING)
    at_low = (rate * (1.0 - reach) < least * (1.0 - ROUNDING)) & has_low
    at_low &= ~(at_high & (above >= below))
    at_high &= ~at_low
    undecided = coarse & (has_plan | at_low | at_high)
    again = far > np.maximum(look_again, reach) + ROUNDING

    codes = np.where(has_plan | has_low | (most < math.inf), np.int8(0), np.int8(NOT_JUDGED))
    for code, rows in enumerate((again, undecided, mismatch, breach), start=1):
        codes = np.where(rows, np.int8(code), codes)
    return Judgements(
        codes,
        at_high.astype(np.int8) - at_low.astype(np.int8),
        np.where(at_high, above, np.where(at_low, below, math.nan)),
        off,
        coarse,
    )


def conformance_probability(
    *, value: float, standard: float, low: float | None, high: float | None
) -> float:
    """Return the probability that the truth behind a measured value is within the limits. [1]

    Args: value, finite; standard uncertainty ≥ 0, absolute; low and high, all in one unit, None
        where there is no limit, but not both.
    Raises: OutOfRange if an argument is out of its range, both limits are None, or low > high.
    Source: [JCGM-106] 7.2 to 7.4, for a normal spread and nothing known beforehand.
    """
    finite("value", value)
    not_negative("standard", standard)
    exact = judge_within(value=value, expanded=0.0, low=low, high=high)
    if standard == 0.0:
        return 1.0 if exact is Outcome.AGREES else 0.0
    up_to_high = 1.0 if high is None else _NORMAL.cdf((high - value) / standard)
    return up_to_high - (0.0 if low is None else _NORMAL.cdf((low - value) / standard))


def capability_index(*, low: float, high: float, standard: float) -> float:
    """Return how fine a measurement is for a tolerance: its width over 4 u. [1]

    Args: low ≤ high, finite; standard uncertainty > 0, all in one unit.
    Raises: OutOfRange if an argument is out of its range.
    Source: [JCGM-106] 7.6.
    """
    not_negative("high − low", finite("high", high) - finite("low", low))
    return (high - low) / (4.0 * positive("standard", standard))


def _label(low: Number | None, high: Number | None) -> tuple[FloatArray, FloatArray]:
    """Return both limits of the label as arrays; 0 and +inf where there is none."""
    least = np.asarray(0.0 if low is None else low, np.float64)
    most = np.asarray(math.inf if high is None else high, np.float64)
    if not most.min(initial=math.inf) > 0.0:
        raise OutOfRange("high", float(most.min()), "positive; infinite where there is no limit")
    crossed = ~(least <= most)
    if crossed.any():
        row = int(np.argmax(crossed))
        pair = np.broadcast_arrays(least, most)
        raise OutOfRange(
            "low",
            float(pair[0].flat[row]),
            "not above high = {high}",
            high=f"{float(pair[1].flat[row])!r}",
        )
    return np.maximum(least, 0.0), most
