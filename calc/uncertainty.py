"""Propagation of measurement uncertainty to the delivered rate.

Every input of the rate enters as a product of powers, so relative standard uncertainties add as
squares, each weighted by the square of its exponent. Inputs are taken as independent of each other.
What one gauge or one speed sensor gets wrong is shared by every nozzle and every pass: it does not
average out, and nothing here divides by the square root of a number of nozzles.
"""

from __future__ import annotations

import math

from calc.errors import N, not_negative, positive

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


def relative_of_flow(*, u_flow: N, u_pressure: N, exponent: N) -> N:
    """Return the relative standard uncertainty of a flow scaled by the pressure law. [1]

    Args: u_flow, relative, of the known flow [1] ≥ 0; u_pressure, relative, of the pressure it is
        scaled to [1] ≥ 0; exponent of the pressure law [1] > 0.
    Raises: OutOfRange if an argument is out of its range.
    Source: [JCGM-100] 5.1.6.
    """
    not_negative("u_flow", u_flow)
    not_negative("u_pressure", u_pressure)
    positive("exponent", exponent)
    share = exponent * u_pressure
    return _root(u_flow * u_flow + share * share)


def relative_of_rate(*, u_flow: N, u_speed: N, u_spacing: N, u_duty: N, u_specific_gravity: N) -> N:
    """Return the relative standard uncertainty of the delivered carrier rate. [1]

    The rate goes with the flow and the duty, against speed and spacing, and against the square
    root of the specific gravity, which is why that one counts half.

    Args: the relative standard uncertainty of each input [1] ≥ 0; zero for one that is exact.
    Raises: OutOfRange if one is negative or not finite.
    Source: [JCGM-100] 5.1.6.
    """
    not_negative("u_flow", u_flow)
    not_negative("u_speed", u_speed)
    not_negative("u_spacing", u_spacing)
    not_negative("u_duty", u_duty)
    not_negative("u_specific_gravity", u_specific_gravity)
    return _root(
        u_flow * u_flow
        + u_speed * u_speed
        + u_spacing * u_spacing
        + u_duty * u_duty
        + 0.25 * u_specific_gravity * u_specific_gravity
    )


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


def _root(squares: N) -> N:
    """Return the square root as a float of a float, as an array of an array."""
    root: N = squares**0.5
    return root
