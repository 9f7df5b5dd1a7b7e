"""The one exception of `calc` and the guards that raise it.

A physical input that cannot be true is refused with its name, its value and the bound it breaks;
nothing is clamped and nothing comes back as NaN, because a wrong number that looks right is the
failure this package exists to find.

Every guard returns its value unchanged, so that it can stand inside a formula. On an array it costs
two reductions (the minimum and the maximum let NaN through, and NaN fails every comparison), and on
a float no call of numpy at all.
"""

from __future__ import annotations

import math
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

Number = float | FloatArray
"""A float or an array of floats; every formula broadcasts."""

N = TypeVar("N", float, FloatArray)
"""All floats, or all arrays: floats in give a float out, arrays in give an array out.

A call that mixes the two broadcasts as well; to a type checker a lone float is then written as
`numpy.asarray(value)`.
"""

_Guarded = TypeVar("_Guarded", bound=Number)


class OutOfRange(ValueError):
    """A physical input outside its valid range.

    Attributes: argument (name), value (as given), bound (what is allowed, in words), template and
    values, the bound as a text with places and what stands in them.
    """

    def __init__(self, argument: str, value: Any, template: str, /, **values: Any) -> None:
        """Name the argument, its value and the bound that it breaks.

        Args: template of the bound, with a place such as "{low}" for each of the `values`.
        """
        self.argument = argument
        self.value = value
        self.template = template
        self.values = values
        self.bound = template.format(**values)
        super().__init__(f"{argument} is {value!r}; it must be {self.bound}.")


def finite(name: str, value: _Guarded) -> _Guarded:
    """Return `value` unchanged, a finite number or an array of them.

    Raises: OutOfRange, naming `name`, if a value is NaN or infinite.
    """
    low, high = _extremes(value)
    if not (low > -math.inf and high < math.inf):
        raise OutOfRange(name, _offender(value, -math.inf, math.inf), "finite")
    return value


def positive(name: str, value: _Guarded) -> _Guarded:
    """Return `value` unchanged, positive and finite throughout.

    Raises: OutOfRange, naming `name`, if a value is zero, negative, NaN or infinite.
    """
    low, high = _extremes(value)
    if not (low > 0.0 and high < math.inf):
        raise OutOfRange(name, _offender(value, 0.0, math.inf), "positive and finite")
    return value


def not_negative(name: str, value: _Guarded) -> _Guarded:
    """Return `value` unchanged, zero or more and finite throughout.

    Raises: OutOfRange, naming `name`, if a value is negative, NaN or infinite.
    """
    low, high = _extremes(value)
    if not (low >= 0.0 and high < math.inf):
        below_zero = math.nextafter(0.0, -math.inf)
        raise OutOfRange(name, _offender(value, below_zero, math.inf), "zero or more, and finite")
    return value


def within(name: str, value: _Guarded, low: float, high: float, unit: str) -> _Guarded:
    """Return `value` unchanged, from `low` to `high` with both ends allowed.

    Args: low and high are finite and in `unit`, which is empty for a bare number.
    Raises: OutOfRange, naming `name`, if a value is outside or NaN.
    """
    least, most = _extremes(value)
    if not (least >= low and most <= high):
        below, above = math.nextafter(low, -math.inf), math.nextafter(high, math.inf)
        bound = "between {low} and {high} {unit}" if unit else "between {low} and {high}"
        named = {"low": f"{low:.10g}", "high": f"{high:.10g}", **({"unit": unit} if unit else {})}
        raise OutOfRange(name, _offender(value, below, above), bound, **named)
    return value


def whole(name: str, value: int, *, at_least: int = 1) -> int:
    """Return `value` unchanged, a whole number of things, `at_least` or more.

    Raises: OutOfRange, naming `name`, if it is not an int or is too small.
    """
    if not isinstance(value, int) or value < at_least:
        raise OutOfRange(name, value, "a whole number, {least} or more", least=at_least)
    return value


def _extremes(value: Number) -> tuple[float, float]:
    """Return the least and the greatest value; NaN if one is NaN."""
    if isinstance(value, np.ndarray):
        # An empty array breaks no bound: it yields limits that pass every comparison here.
        return (
            float(value.min(initial=math.inf)),
            float(value.max(initial=-math.inf)),
        )
    return value, value


def _offender(value: Number, above: float, below: float) -> float:
    """Return the first value that is not strictly between `above` and `below`."""
    if isinstance(value, np.ndarray):
        flat = value.ravel()
        return float(flat[~((flat > above) & (flat < below))][0])
    return value.item() if isinstance(value, np.generic) else value
