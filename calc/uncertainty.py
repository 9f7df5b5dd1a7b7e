"""Propagation of measurement uncertainty to the delivered rate.

Every input of the rate enters as a product of powers, so relative standard uncertainties add as
squares, each weighted by the square of its exponent. Inputs are taken as independent of each other.
What one gauge or one speed sensor gets wrong is shared by every nozzle and every pass: it does not
average out, and nothing here divides by the square root of a number of nozzles.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache, reduce
from operator import add
from statistics import NormalDist
from typing import Any

import numpy as np

from calc.errors import FloatArray, N, Number, OutOfRange, not_negative, positive

COVERAGE_FACTOR = 2.0
"""k: the expanded uncertainty is twice the standard one, about 95 % for a normal spread."""

_ROOT_3 = math.sqrt(3.0)

TYPICAL_HALF_WIDTHS: dict[str, float] = {
    "gauge_kpa": 20.0,
    "gauge_relative": 0.05,
    "satellite_speed_km_h": 0.2,
    "wheel_speed_relative": 0.03,
    "new_nozzle_relative": 0.05,
    "catch_test_relative": 0.02,
    "spacing_relative": 0.01,
    "tank_marks_relative": 0.05,
    "exponent": 0.03,
}
"""What is usually within ± this where nobody has measured better. [HALF-WIDTHS]."""


def standard_from_half_width(*, half_width: N) -> N:
    """Return the standard uncertainty behind a stated accuracy, in the unit of `half_width`.

    A stated "within ± a" says nothing about where inside, so the spread is taken as rectangular
    and u = a / √3.

    Args: half_width a ≥ 0, in any unit.
    Raises: OutOfRange if it is negative or not finite.
    Source: [JCGM-100] 4.3.7.
    """
    return not_negative("half_width", half_width) / _ROOT_3


def relative_from_relative_accuracy(*, accuracy: N) -> N:
    """Return the relative standard uncertainty of a reading that is right within ± a fraction. [1]

    Args: accuracy [1] ≥ 0; 0.05 for "± 5 % of the reading".
    Raises: OutOfRange if it is negative or not finite.
    Source: [JCGM-100] 4.3.7.
    """
    return not_negative("accuracy", accuracy) / _ROOT_3


def relative_from_absolute_accuracy(*, accuracy: N, value: N) -> N:
    """Return the relative standard uncertainty of a reading that is right within ± an amount. [1]

    Args: accuracy ≥ 0 and value > 0, in the same unit.
    Raises: OutOfRange if accuracy is negative, value not positive, or one is not finite.
    Source: [JCGM-100] 4.3.7.
    """
    return not_negative("accuracy", accuracy) / (positive("value", value) * _ROOT_3)


def relative_of_product_rate(*, u_rate: N, u_concentration: N) -> N:
    """Return the relative standard uncertainty of a product's delivered rate. [1]

    Args: u_rate of the carrier rate and u_concentration of the mix, both relative [1] ≥ 0.
    Raises: OutOfRange if one is negative or not finite.
    Source: [JCGM-100] 5.1.6.
    """
    not_negative("u_rate", u_rate)
    not_negative("u_concentration", u_concentration)
    return _root(u_rate * u_rate + u_concentration * u_concentration)


def relative_of_ratio(*, u_above: N, u_below: N) -> N:
    """Return the relative standard uncertainty of the quotient of two independent amounts. [1]

    Args: u_above and u_below, relative [1] ≥ 0.
    Raises: OutOfRange if one is negative or not finite.
    Source: [JCGM-100] 5.1.6.
    """
    not_negative("u_above", u_above)
    not_negative("u_below", u_below)
    return _root(u_above * u_above + u_below * u_below)


def expanded(*, standard: N) -> N:
    """Return the expanded uncertainty U = 2 u, in the unit of `standard`.

    Args: standard uncertainty u ≥ 0.
    Raises: OutOfRange if it is negative or not finite.
    Source: [JCGM-100] 6.2.1.
    """
    return COVERAGE_FACTOR * not_negative("standard", standard)


def pressure_sources(
    *,
    exponent: N,
    gauge_kpa: N,
    known_at_kpa: N,
    u_gauge_kpa: N,
    u_repeatability_kpa: N | float | None = None,
    u_known_at_kpa: N | float = 0.0,
) -> dict[str, N]:
    """Return what the pressures add to the rate's relative standard uncertainty, by source. [1]

    A flow that was caught on the rig's own gauge cancels the error of that gauge: whole at the
    same reading, else up to the difference of 1/reading; an error of scale cancels at any reading.
    What is left is how well the needle comes back, at both readings. A flow that was caught on
    another gauge brings the error of that one, and a flow out of a data sheet none of its own.

    Args: exponent of the pressure law [1] > 0; gauge_kpa while spraying and known_at_kpa, the
        pressure at which the flow is known, read on the gauge of that test [kPa] > 0; u_gauge_kpa
        of the rig's gauge [kPa] ≥ 0; u_repeatability_kpa of the rig's gauge [kPa] ≥ 0 if the flow
        was caught on it, else None; u_known_at_kpa of the other gauge [kPa] ≥ 0, zero for a data
        sheet, not read for the own gauge. All standard uncertainties.
    Raises: OutOfRange if an argument is out of its range.
    Source: [JCGM-100] 5.1 and 5.2 (what two readings share is one source).
    """
    positive("exponent", exponent)
    positive("gauge_kpa", gauge_kpa)
    positive("known_at_kpa", known_at_kpa)
    not_negative("u_gauge_kpa", u_gauge_kpa)
    if u_repeatability_kpa is None:
        return {
            "gauge": exponent * u_gauge_kpa / gauge_kpa,
            "gauge of the test": exponent
            * not_negative("u_known_at_kpa", u_known_at_kpa)
            / known_at_kpa,
        }
    not_negative("u_repeatability_kpa", u_repeatability_kpa)
    return {
        "gauge": exponent * u_gauge_kpa * abs(1.0 / gauge_kpa - 1.0 / known_at_kpa),
        "reading": exponent * u_repeatability_kpa / gauge_kpa,
        "reading of the test": exponent * u_repeatability_kpa / known_at_kpa,
    }


def exponent_source(*, pressure_kpa: N, known_at_kpa: N, u_exponent: N | float) -> N:
    """Return what the doubt of the exponent adds to the rate's relative uncertainty. [1]

    Nothing at the pressure at which the flow is known, and more the farther away.

    Args: pressure_kpa and known_at_kpa [kPa] > 0, both at the nozzle or both at the gauge;
        u_exponent, standard [1] ≥ 0.
    Raises: OutOfRange if an argument is out of its range.
    Source: [JCGM-100] 5.1: |∂ ln flow/∂n| = |ln(p/p₀)|.
    """
    ratio = positive("pressure_kpa", pressure_kpa) / positive("known_at_kpa", known_at_kpa)
    far: N = np.abs(np.log(ratio)) if isinstance(ratio, np.ndarray) else abs(math.log(ratio))
    return far * not_negative("u_exponent", u_exponent)


def combined(*, sources: Mapping[str, N]) -> N:
    """Return the relative standard uncertainty from independent sources: root sum of squares. [1]

    Args: sources, by name, what each adds, relative and standard [1]; at least one. A sign is
        allowed and does not count.
    Raises: OutOfRange if there is no source.
    Source: [JCGM-100] 5.1.
    """
    first, *others = _parts(sources)
    total = first * first
    for part in others:
        total = total + part * part
    return _root(total)


def coverage_factor(*, ruling: N, rest: N) -> N:
    """Return k, such that ± k u holds 95 % where one rectangular source may rule.

    1.96 if everything is normal or many small parts add up, 1.65 if one rectangle is all there is.

    Args: ruling, the standard uncertainty of the largest rectangular source ≥ 0, and rest, that of
        all others together ≥ 0, in one unit.
    Raises: OutOfRange if one is negative or not finite.
    Source: [JCGM-100] G.2 (a rectangle with a normal), solved as a convolution; compared with
        Monte Carlo, [JCGM-101].
    """
    not_negative("ruling", ruling)
    not_negative("rest", rest)
    # The least double keeps a budget of nothing but zeros from dividing by zero: k is then 1.96.
    share = ruling / np.maximum(np.hypot(ruling, rest), np.finfo(np.float64).tiny)
    k: N = _as_given(np.interp(share, *_coverage_factors()))
    return k


def coverage_factor_of(*, sources: Mapping[str, N]) -> N:
    """Return k of a budget whose sources are all rectangular, as stated accuracies are.

    Args: sources, by name, what each adds, relative and standard [1]; at least one.
    Raises: OutOfRange if there is no source.
    Source: as for `coverage_factor`.
    """
    parts = [np.abs(part) for part in _parts(sources)]
    ruling = reduce(np.maximum, parts)
    rest = np.sqrt(np.maximum(reduce(add, [part**2 for part in parts]) - ruling**2, 0.0))
    k: N = _as_given(coverage_factor(ruling=ruling, rest=rest))
    return k


def worst_case(*, estimate: N, sources: Mapping[str, N]) -> tuple[N, N]:
    """Return the estimate with every input at the end of its half-width, in the estimate's unit.

    To the first order: the half-widths, √3 times what each source adds, are summed to S, and the
    ends are r·(1 − S), never below zero, and r/(1 − S), infinite if S reaches 1.

    Args: estimate ≥ 0; sources, by name, relative and standard [1], rectangular; at least one.
    Raises: OutOfRange if the estimate is negative or not finite, or there is no source.
    Source: computed.
    """
    not_negative("estimate", estimate)
    room = 1.0 - _ROOT_3 * reduce(add, [np.abs(part) for part in _parts(sources)])
    return _as_given(estimate * np.maximum(room, 0.0)), _over(estimate, room)


def interval(*, estimate: N, relative_u: N, k: N) -> tuple[N, N]:
    """Return the ends between which the truth lies, in the unit of the estimate.

    The error is a fraction of the truth, so the ends are r/(1 + k u) and r/(1 − k u): never below
    zero, and infinite above, which reads "no upper end", where k u reaches 1.

    Args: estimate ≥ 0; relative_u [1] ≥ 0; coverage factor k ≥ 0.
    Raises: OutOfRange if an argument is out of its range.
    Source: computed.
    """
    not_negative("estimate", estimate)
    reach = not_negative("relative_u", relative_u) * not_negative("k", k)
    return estimate / (1.0 + reach), _over(estimate, 1.0 - reach)


def _over(estimate: Number, room: Number) -> Any:
    """Return estimate / room, infinite where no room is left but the noise of doubles."""
    none_left = np.full(np.broadcast(estimate, room).shape, math.inf)
    return _as_given(np.divide(estimate, room, out=none_left, where=np.greater(room, 1e-12)))


def _as_given(value: Any) -> Any:
    """Return an array as it is, and a single number, which numpy wraps, as a float."""
    return value if isinstance(value, np.ndarray) and value.ndim else float(value)


def _parts(sources: Mapping[str, N]) -> list[N]:
    """Return what each source adds."""
    if not sources:
        raise OutOfRange("sources", dict(sources), "one or more")
    return list(sources.values())


@cache
def _coverage_factors() -> tuple[FloatArray, FloatArray]:
    """Return k at shares of one rectangle in the whole, 0 to 1, between which it is interpolated.

    With the rectangle's half-width a and the normal rest of unit spread, the chance to stay below
    x is [ψ(x + a) − ψ(x − a)] / 2a with ψ(t) = t Φ(t) + φ(t), the integral of Φ.
    """
    normal = NormalDist()

    def integral(t: float) -> float:
        return t * normal.cdf(t) + normal.pdf(t)

    def factor(share: float) -> float:
        if share == 0.0:
            return normal.inv_cdf(0.975)
        if share == 1.0:
            return 0.95 * _ROOT_3
        a = share / math.sqrt(1.0 - share * share) * _ROOT_3
        low, high = 0.0, a + 3.0
        for _ in range(40):
            x = (low + high) / 2.0
            if integral(x + a) - integral(x - a) < 0.975 * 2.0 * a:
                low = x
            else:
                high = x
        return low * math.sqrt(1.0 - share * share)

    shares = np.linspace(0.0, 1.0, 201)
    return shares, np.array([factor(float(share)) for share in shares])


def _root(squares: N) -> N:
    """Return the square root as a float of a float, as an array of an array."""
    root: N = squares**0.5
    return root
