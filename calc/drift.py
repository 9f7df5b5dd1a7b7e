"""Basic drift curves: the deposit beside a field, as a percentage of the applied rate.

The curves are upper percentiles (the 90th for one application) of German trials with standard
rigs: wind up to 5 m/s, up to 8 km/h, a boom not too high, no drift-reducing gear. They are not a
forecast for a day, and faster rigs and higher booms drift more. A label's buffer is not computed
from them: it is obeyed.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from calc.errors import N, OutOfRange, not_negative, positive, within

NEAREST_M = 1.0
"""The curves begin here; they grow without bound towards the edge of the field."""

FARTHEST_M = 50.0
"""The published table ends here."""


class Planting(StrEnum):
    """Which curve: field crops, or the tall plantings that one other curve covers."""

    LOW = "field crops, and vegetables below 50 cm"
    TALL = "vegetables above 50 cm, and vines in leaf"


@dataclass(frozen=True, slots=True)
class Curve:
    """drift = A·z^B.

    Attributes: a [% at 1 m]; b, the exponent; percentile of the trials.
    """

    a: float
    b: float
    percentile: int


LOW_CURVES: tuple[Curve, ...] = (
    Curve(2.7593, -0.9778, 90),
    Curve(2.4376, -1.0100, 82),
    Curve(2.0244, -0.9956, 77),
    Curve(1.8619, -0.9861, 74),
    Curve(1.7942, -0.9943, 72),
    Curve(1.6314, -0.9861, 70),
    Curve(1.5784, -0.9811, 69),
    Curve(1.5119, -0.9832, 67),
)
"""For one to seven and for eight or more applications in a season, [FOCUS-B] table B.1."""

TALL_CURVE = Curve(44.769, -1.5643, 90)
"""For one application, [FOCUS-B] table B.1."""

REDUCTION_CLASSES: tuple[tuple[str, float], ...] = (
    ("A", 0.99),
    ("B", 0.95),
    ("C", 0.90),
    ("D", 0.75),
    ("E", 0.50),
    ("F", 0.25),
)
"""Drift-reduction classes and the least reduction of each, [ISO-22369-1], from memory."""


@dataclass(frozen=True, slots=True)
class Buffer:
    """A distance at which the curve falls to a limit.

    Attributes: distance_m, None where it is nearer than the curve begins; words, as to be shown.
    """

    distance_m: float | None
    words: str


def curve(*, applications: int = 1, planting: Planting = Planting.LOW) -> Curve:
    """Return the curve for a number of applications in a season.

    Args: applications ≥ 1; planting: tall plantings have the curve of one application alone.
    Raises: OutOfRange if there is no curve for it.
    Source: [FOCUS-B] table B.1.
    """
    if applications < 1:
        raise OutOfRange("applications", applications, "1 or more")
    if planting is Planting.LOW:
        return LOW_CURVES[min(applications, len(LOW_CURVES)) - 1]
    if applications != 1:
        raise OutOfRange(
            "applications", applications, "1 for {planting_value}", planting_value=planting.value
        )
    return TALL_CURVE


def drift_percent(
    *,
    distance_m: N,
    applications: int = 1,
    planting: Planting = Planting.LOW,
    reduction: float = 0.0,
) -> N:
    """Return the deposit at a distance from the edge of the last swath. [% of applied rate]

    Args: distance_m [m] from 1 to 50; applications ≥ 1; planting; reduction, the fraction by which
        the rig reduces drift [1] from 0 to below 1, only as measured in the scheme of the curve.
    Raises: OutOfRange if an argument is out of its range.
    Source: [RAUTMANN-2001]; coefficients [FOCUS-B] table B.1.
    """
    within("distance_m", distance_m, NEAREST_M, FARTHEST_M, "m")
    chosen = curve(applications=applications, planting=planting)
    deposit: N = _passing(reduction) * chosen.a * distance_m**chosen.b
    return deposit


def mean_drift_percent(
    *,
    near_m: float,
    far_m: float,
    applications: int = 1,
    planting: Planting = Planting.LOW,
    reduction: float = 0.0,
) -> float:
    """Return the mean deposit over a strip, such as a ditch. [% of applied rate]

    Args: near_m and far_m, the edges of the strip [m] from 1 to 50, near_m < far_m; the others as
        for `drift_percent`.
    Raises: OutOfRange if an argument is out of its range.
    Source: [FOCUS-B], the integral of the curve over the strip.
    """
    within("near_m", near_m, NEAREST_M, FARTHEST_M, "m")
    within("far_m", far_m, NEAREST_M, FARTHEST_M, "m")
    if not near_m < far_m:
        raise OutOfRange("far_m", far_m, "above near_m = {near_m}", near_m=f"{near_m!r}")
    chosen = curve(applications=applications, planting=planting)
    power = chosen.b + 1.0
    strip: float = (far_m**power - near_m**power) / (power * (far_m - near_m))
    return _passing(reduction) * chosen.a * strip


def water_concentration_ug_l(*, rate_g_ha: N, drift_percent: N, depth_m: N) -> N:
    """Return the concentration in standing water that the deposit mixes into. [µg/L]

    Args: rate_g_ha of the active ingredient [g/ha] > 0; drift_percent over the water [%] from 0 to
        100; depth_m of the water [m] > 0.
    Raises: OutOfRange if an argument is out of its range.
    Source: [FOCUS-B]; exact, 1 g/ha is 100 µg/m², and a cubic metre is 1000 L.
    """
    positive("rate_g_ha", rate_g_ha)
    within("drift_percent", drift_percent, 0.0, 100.0, "%")
    return rate_g_ha * drift_percent / 100.0 / (10.0 * positive("depth_m", depth_m))


def buffer_for_limit(
    *,
    limit_percent: float,
    applications: int = 1,
    planting: Planting = Planting.LOW,
    reduction: float = 0.0,
) -> Buffer:
    """Return where the curve falls to a limit; "< 1 m" where that is before the curve begins. [m]

    Args: limit_percent of the applied rate [%] > 0, not below what the curve gives at 50 m; the
        others as for `drift_percent`.
    Raises: OutOfRange if an argument is out of its range.
    Source: [RAUTMANN-2001], the curve solved for the distance.
    """
    positive("limit_percent", limit_percent)
    chosen = curve(applications=applications, planting=planting)
    start = _passing(reduction) * chosen.a
    least = start * FARTHEST_M**chosen.b
    if limit_percent < least:
        raise OutOfRange(
            "limit_percent",
            limit_percent,
            "{least} % or more, where the curve ends at 50 m",
            least=f"{least:.4g}",
        )
    distance: float = (start / limit_percent) ** (-1.0 / chosen.b)
    if distance < NEAREST_M:
        return Buffer(None, "< 1 m")
    return Buffer(distance, f"{distance:.1f} m")


def reduction_class(*, reduction: float) -> str | None:
    """Return the letter of the drift-reduction class, None below the lowest.

    Args: reduction of drift against the reference rig [1] from 0 to 1.
    Raises: OutOfRange outside that range.
    Source: [ISO-22369-1], from memory.
    """
    within("reduction", reduction, 0.0, 1.0, "")
    for letter, least in REDUCTION_CLASSES:
        if reduction >= least:
            return letter
    return None


def _passing(reduction: float) -> float:
    """Return the fraction of drift that a reduction leaves."""
    not_negative("reduction", reduction)
    if reduction >= 1.0:
        raise OutOfRange("reduction", reduction, "below 1: no rig stops all drift")
    return 1.0 - reduction
