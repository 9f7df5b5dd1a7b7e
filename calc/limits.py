"""How a value with an uncertainty stands to hard limits, and to a target with a tolerance.

The interval from v − U to v + U is compared with the limits. Wholly inside, the value agrees;
wholly outside, it does not; anything else cannot be decided with the accuracy at hand. What is
delivered is judged by `calc.verdict` instead, which asks how likely the truth is beyond the limit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from calc.errors import Number, OutOfRange, finite, not_negative, positive

ROUNDING = 1e-12
"""The noise of double arithmetic, as a fraction of a limit.

It is not a tolerance: the same 2 pt/ac, converted along two paths, differ by a few parts in 10¹⁶,
and a difference of that kind must not be read as one in the field.
"""

LOOK_AGAIN = 0.05
"""Deviation from a target above which a value needs a second look. [TARGET-5-10]."""

DISAGREE = 0.10
"""Deviation from a target above which a value does not agree. [TARGET-5-10]."""


class Outcome(StrEnum):
    """The three answers of a comparison; the value is the word that is shown."""

    AGREES = "agrees"
    DISAGREES = "does not agree"
    UNDECIDED = "cannot be decided at this accuracy"


CODES: dict[Outcome, int] = {Outcome.DISAGREES: -1, Outcome.UNDECIDED: 0, Outcome.AGREES: 1}
"""How an outcome is written in an array: −1 does not agree, 0 cannot be decided, 1 agrees."""

OUTCOMES: dict[int, Outcome] = {code: outcome for outcome, code in CODES.items()}
"""The outcome of each array code."""

Codes = npt.NDArray[np.int8]


class TargetJudgement(NamedTuple):
    """How a value stands to its target.

    Attributes: outcome; look_again, true if the deviation calls for a second look whatever the
    outcome; deviation, value / target − 1.
    """

    outcome: Outcome
    look_again: bool
    deviation: float


class TargetJudgements(NamedTuple):
    """How each value of an array stands to its target.

    Attributes: codes (see `CODES`), look_again, deviation; arrays of one length.
    """

    codes: Codes
    look_again: npt.NDArray[np.bool_]
    deviation: npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Comparison:
    """One quantity, judged.

    Attributes: quantity (its name); value and unit; expanded (U, in the unit); low and high, the
    limits in the unit (None where there is none); outcome; look_again; tolerance, the fraction of
    a target that made the limits (None for limits that are hard); basis, what the limits stand on:
    a source key, or "label", or "common practice, no source".
    """

    quantity: str
    value: float
    unit: str
    expanded: float
    low: float | None
    high: float | None
    outcome: Outcome
    look_again: bool
    tolerance: float | None
    basis: str


def judge_within(
    *, value: float, expanded: float, low: float | None, high: float | None
) -> Outcome:
    """Return how `value` ± `expanded` stands to the limits; the limits themselves are allowed.

    Args: value, finite; expanded uncertainty ≥ 0; low and high, in the same unit, None where there
        is no limit, but not both.
    Raises: OutOfRange if an argument is out of its range, both limits are None, or low > high.
    Source: [JCGM-106] 8.3, guard band of the width U on both sides.
    """
    finite("value", value)
    not_negative("expanded", expanded)
    least, most = _limits(low, high)
    if value + expanded < least or value - expanded > most:
        return Outcome.DISAGREES
    if value - expanded >= least and value + expanded <= most:
        return Outcome.AGREES
    return Outcome.UNDECIDED


def judge_within_array(
    *, value: Number, expanded: Number, low: Number | None, high: Number | None
) -> Codes:
    """Return how each value stands to its limits, as int8 codes: see `CODES`.

    Args: as for `judge_within`, one row or one number for all rows. Within an array of limits, −inf
        in `low` and +inf in `high` mark a row without that limit.
    Raises: OutOfRange as for `judge_within`, and if a limit is NaN.
    Source: [JCGM-106] 8.3.
    """
    value, expanded = np.asarray(value, np.float64), np.asarray(expanded, np.float64)
    finite("value", value)
    not_negative("expanded", expanded)
    return _within_codes(value, expanded, *_array_limits(low, high))


def judge_target(
    *,
    value: float,
    expanded: float,
    target: float,
    look_again: float = LOOK_AGAIN,
    disagree: float = DISAGREE,
) -> TargetJudgement:
    """Return how `value` ± `expanded` stands to `target` ± the fraction `disagree`.

    Args: value, finite; expanded ≥ 0; target > 0, all in one unit; look_again [1] ≥ 0 and
        disagree [1], above look_again or equal to it.
    Raises: OutOfRange if an argument is out of its range.
    Source: [JCGM-106] 8.3; the two fractions are common practice, [TARGET-5-10].
    """
    positive("target", target)
    fractions_in_order(look_again, disagree)
    outcome = judge_within(
        value=value,
        expanded=expanded,
        low=target * (1.0 - disagree),
        high=target * (1.0 + disagree),
    )
    deviation = value / target - 1.0
    return TargetJudgement(outcome, abs(deviation) > look_again + ROUNDING, deviation)


def judge_target_array(
    *,
    value: Number,
    expanded: Number,
    target: Number,
    look_again: float = LOOK_AGAIN,
    disagree: float = DISAGREE,
) -> TargetJudgements:
    """Return how each value stands to its target; the codes are those of `CODES`.

    Args: as for `judge_target`, one row or one number for all rows.
    Raises: OutOfRange if an argument is out of its range.
    Source: [JCGM-106] 8.3; the two fractions are common practice, [TARGET-5-10].
    """
    value, expanded, target = (
        np.asarray(value, np.float64),
        np.asarray(expanded, np.float64),
        np.asarray(target, np.float64),
    )
    finite("value", value)
    not_negative("expanded", expanded)
    positive("target", target)
    fractions_in_order(look_again, disagree)
    deviation = value / target - 1.0
    bottom, top = 1.0 - disagree, 1.0 + disagree
    codes = _within_codes(
        value,
        expanded,
        target * (bottom - ROUNDING * abs(bottom)),
        target * (top + ROUNDING * top),
    )
    return TargetJudgements(codes, np.abs(deviation) > look_again + ROUNDING, deviation)


def verdict_within(
    *,
    quantity: str,
    value: float,
    unit: str,
    expanded: float,
    low: float | None,
    high: float | None,
    basis: str,
) -> Comparison:
    """Return the verdict on a value against hard limits, all in `unit`.

    Args: as for `judge_within`; quantity, unit and basis as they are to be shown.
    Raises: OutOfRange as for `judge_within`.
    Source: [JCGM-106] 8.3.
    """
    outcome = judge_within(value=value, expanded=expanded, low=low, high=high)
    return Comparison(
        quantity=quantity,
        value=value,
        unit=unit,
        expanded=expanded,
        low=low,
        high=high,
        outcome=outcome,
        look_again=False,
        tolerance=None,
        basis=basis,
    )


def verdict_target(
    *,
    quantity: str,
    value: float,
    unit: str,
    expanded: float,
    target: float,
    basis: str,
    look_again: float = LOOK_AGAIN,
    disagree: float = DISAGREE,
) -> Comparison:
    """Return the verdict on a value against a target with a tolerance, all in `unit`.

    Args: as for `judge_target`; quantity, unit and basis as they are to be shown.
    Raises: OutOfRange as for `judge_target`.
    Source: [JCGM-106] 8.3.
    """
    judged = judge_target(
        value=value, expanded=expanded, target=target, look_again=look_again, disagree=disagree
    )
    return Comparison(
        quantity=quantity,
        value=value,
        unit=unit,
        expanded=expanded,
        low=target * (1.0 - disagree),
        high=target * (1.0 + disagree),
        outcome=judged.outcome,
        look_again=judged.look_again,
        tolerance=disagree,
        basis=basis,
    )


def fractions_in_order(look_again: float, disagree: float) -> None:
    """Refuse fractions that are negative or in the wrong order.

    Raises: OutOfRange, naming the fraction.
    """
    not_negative("look_again", look_again)
    if not look_again <= disagree < math.inf:
        raise OutOfRange(
            "disagree",
            disagree,
            "look_again = {look_again} or more, and finite",
            look_again=f"{look_again!r}",
        )


def _limits(low: float | None, high: float | None) -> tuple[float, float]:
    """Return both limits, moved apart by the rounding noise; infinite where there is none."""
    if low is None and high is None:
        raise OutOfRange("high", high, "given if low is not: a verdict needs a limit")
    least = -math.inf if low is None else finite("low", low)
    most = math.inf if high is None else finite("high", high)
    if least > most:
        raise OutOfRange("low", low, "not above high = {high}", high=f"{high!r}")
    return least - ROUNDING * abs(least), most + ROUNDING * abs(most)


def _array_limits(
    low: Number | None, high: Number | None
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Return both limits as arrays, moved apart by the rounding noise."""
    if low is None and high is None:
        raise OutOfRange("high", high, "given if low is not: a verdict needs a limit")
    least = np.asarray(-math.inf if low is None else low, np.float64)
    most = np.asarray(math.inf if high is None else high, np.float64)
    for name, limit in (("low", least), ("high", most)):
        if math.isnan(limit.min(initial=math.inf)):
            raise OutOfRange(name, math.nan, "a number; infinite where there is no limit")
    crossed = least > most
    if crossed.any():
        row = int(np.argmax(crossed))
        pair = np.broadcast_arrays(least, most)
        raise OutOfRange(
            "low",
            float(pair[0].flat[row]),
            "not above high = {high}",
            high=f"{float(pair[1].flat[row])!r}",
        )
    return least - ROUNDING * np.abs(least), most + ROUNDING * np.abs(most)


def _within_codes(
    value: npt.NDArray[np.float64],
    expanded: npt.NDArray[np.float64],
    least: npt.NDArray[np.float64],
    most: npt.NDArray[np.float64],
) -> Codes:
    """Return the codes of values whose arguments have been checked."""
    bottom, top = value - expanded, value + expanded
    inside = (bottom >= least) & (top <= most)
    outside = (top < least) | (bottom > most)
    return inside.astype(np.int8) - outside.astype(np.int8)
