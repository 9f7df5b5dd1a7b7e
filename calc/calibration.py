"""Catch test, jar method, timed course, gauge check and boom height.

A catch test is done with water: the density of a solution enters later, once, in `flow`. The limits
are yardsticks of the trade and of inspection standards; no United States rule sets a tolerance on
the rate, and a label's maximum has none.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from calc.errors import N, OutOfRange, not_negative, positive, within

EVENNESS_LIMIT = 0.05
"""A nozzle further than this from the boom mean is cleaned or replaced. Source: [EVENNESS-5]."""

WEAR_LIMIT = 0.10
"""A nozzle this much over its new flow is replaced. Source: [WEAR-10]."""

WATER_KG_L = 0.998
"""Density of water near 20 °C, for catches that are weighed. Source: [WATER-998]."""

JAR_SQUARE_FEET = 43_560.0 / 128.0
"""1/128 acre: US fluid ounces caught on it are US gallons per acre. Source: [OH-AEX-520]."""

BOOMLESS_SQUARE_FEET = 43_560.0 / 8.0
"""1/8 acre: US pints caught on it are US gallons per acre. Source: [TX-BOOMLESS]."""

FEET_PER_MINUTE_PER_MPH = 88.0


@dataclass(frozen=True, slots=True)
class CatchTest:
    """What a catch test shows. Nozzles are numbered from 1, in the order of the catches.

    Attributes: flows_l_min per nozzle [L/min]; mean_l_min [L/min]; cv, sample standard deviation
    over the mean; deviations, flow / mean − 1; uneven, numbers of the nozzles outside the evenness
    limit; wear, flow / new flow − 1, or None where no new flow is known; worn, numbers of the
    nozzles that reach the wear limit, or None likewise.
    """

    flows_l_min: tuple[float, ...]
    mean_l_min: float
    cv: float
    deviations: tuple[float, ...]
    uneven: tuple[int, ...]
    wear: tuple[float, ...] | None
    worn: tuple[int, ...] | None


@dataclass(frozen=True, slots=True)
class GaugeCheck:
    """How a gauge compares with a reference gauge.

    Attributes: error_kpa, reading − reference [kPa]; relative, error / reference; allowed_kpa, what
    the inspection limit allows either way [kPa]; within_limit.
    """

    error_kpa: float
    relative: float
    allowed_kpa: float
    within_limit: bool


@dataclass(frozen=True, slots=True)
class InspectionLimit:
    """One limit of inspection or practice, as data.

    Attributes: subject; low and high, bounds of the figure in `unit`, None where there is none;
    unit; source, key; how_read.
    """

    subject: str
    low: float | None
    high: float | None
    unit: str
    source: str
    how_read: str


_EXCERPT = "read in excerpt"
_MEMORY = "from memory"
_PRACTICE = "common practice"

INSPECTION_LIMITS = (
    InspectionLimit("single nozzle against the boom mean", -5, 5, "%", "EVENNESS-5", _EXCERPT),
    InspectionLimit(
        "single nozzle against the boom mean, older advice", -10, 10, "%", "UGA-SB16", _EXCERPT
    ),
    InspectionLimit("single nozzle over its new flow", None, 10, "%", "WEAR-10", _EXCERPT),
    InspectionLimit("whole-boom rate against the intended rate", -5, 5, "%", "RATE-5", _EXCERPT),
    InspectionLimit(
        "nozzle flow against nominal, sprayer in use", -10, 10, "%", "ISO-16122-2", _MEMORY
    ),
    InspectionLimit(
        "nozzle flow against the mean where nominal is unknown, sprayer in use",
        *(-5, 5, "%", "ISO-16122-2", _MEMORY),
    ),
    InspectionLimit("diameter of the gauge", 63, None, "mm", "UK-TESTER", _EXCERPT),
    InspectionLimit("gauge marks up to 5 bar", None, 0.2, "bar", "UK-TESTER", _EXCERPT),
    InspectionLimit("gauge marks from 5 to 20 bar", None, 1.0, "bar", "UK-TESTER", _EXCERPT),
    InspectionLimit("gauge error up to 2 bar", -0.2, 0.2, "bar", "ISO-16122-2", _MEMORY),
    InspectionLimit("gauge error above 2 bar", -10, 10, "%", "ISO-16122-2", _MEMORY),
    InspectionLimit("working pressure, steadiness", -10, 10, "%", "UK-TESTER", _EXCERPT),
    InspectionLimit("nozzle body from vertical", -10, 10, "°", "UK-TESTER", _EXCERPT),
    InspectionLimit("pressure drop from gauge to nozzle", None, 10, "%", "ISO-16122-2", _MEMORY),
    InspectionLimit("transverse distribution, CV", None, 10, "%", "ISO-16122-2", _MEMORY),
    InspectionLimit(
        "transverse distribution, one channel against the mean",
        *(-20, 20, "%", "ISO-16122-2", _MEMORY),
    ),
    InspectionLimit(
        "new sprayer, transverse CV at the specified height and pressure",
        *(None, 7, "%", "ISO-16119-2", _MEMORY),
    ),
    InspectionLimit(
        "new sprayer, transverse CV elsewhere in its range", None, 9, "%", "ISO-16119-2", _MEMORY
    ),
    InspectionLimit("new sprayer, dosing error", -6, 6, "%", "ISO-16119-2", _MEMORY),
    InspectionLimit("static CV of a boom, good", None, 10, "%", "FIELD-CV", _PRACTICE),
    InspectionLimit("static CV of a boom, tolerable", None, 15, "%", "FIELD-CV", _PRACTICE),
)
"""Limits of inspection and practice, with where each comes from."""


def evaluate_catches(
    *,
    volumes_ml: Sequence[float],
    seconds: float,
    new_flow_l_min: float | None = None,
    evenness_limit: float = EVENNESS_LIMIT,
    wear_limit: float = WEAR_LIMIT,
) -> CatchTest:
    """Return flows [L/min], mean, evenness and wear from one timed catch per nozzle.

    Args: volumes_ml caught, two nozzles or more [mL] > 0; seconds that every catch took [s] > 0;
        new_flow_l_min of a new nozzle at the same pressure [L/min] > 0, or None where it is not
        known; evenness_limit and wear_limit, fractions > 0 to 1.
    Raises: OutOfRange if an argument is outside its range.
    Source: [EVENNESS-5], [WEAR-10], [MT2000-14] example 9.
    """
    positive("seconds", seconds)
    within("evenness_limit", positive("evenness_limit", evenness_limit), 0.0, 1.0, "")
    within("wear_limit", positive("wear_limit", wear_limit), 0.0, 1.0, "")
    count = len(volumes_ml)
    if count < 2:
        raise OutOfRange("volumes_ml", list(volumes_ml), "the catches of two nozzles or more")
    flows = tuple(
        positive(f"volumes_ml, nozzle {number},", volume) * 0.06 / seconds
        for number, volume in enumerate(volumes_ml, start=1)
    )
    mean = math.fsum(flows) / count
    spread = math.sqrt(math.fsum((flow - mean) ** 2 for flow in flows) / (count - 1))
    deviations = tuple(flow / mean - 1.0 for flow in flows)
    wear = None
    if new_flow_l_min is not None:
        positive("new_flow_l_min", new_flow_l_min)
        wear = tuple(flow / new_flow_l_min - 1.0 for flow in flows)
    return CatchTest(
        flows_l_min=flows,
        mean_l_min=mean,
        cv=spread / mean,
        deviations=deviations,
        uneven=_numbers(
            abs(deviation) > evenness_limit and not _same(abs(deviation), evenness_limit)
            for deviation in deviations
        ),
        wear=wear,
        worn=None
        if wear is None
        else _numbers(share > wear_limit or _same(share, wear_limit) for share in wear),
    )


def evenness_band_l_min(*, mean_l_min: float, limit: float) -> tuple[float, float]:
    """Return the lowest and the highest flow within a limit of the boom mean. [L/min]

    Args: mean_l_min [L/min] > 0; limit, fraction > 0 to 1.
    Raises: OutOfRange if an argument is outside its range.
    Source: [MT2000-14] example 9.
    """
    positive("mean_l_min", mean_l_min)
    within("limit", positive("limit", limit), 0.0, 1.0, "")
    return mean_l_min * (1.0 - limit), mean_l_min * (1.0 + limit)


def weighed_volume_ml(*, mass_g: N) -> N:
    """Return the volume of a catch of water that was weighed. [mL]

    Args: mass_g without the jar [g] > 0.
    Raises: OutOfRange if it is not positive and finite.
    Source: [WATER-998].
    """
    return positive("mass_g", mass_g) / WATER_KG_L


def jar_course_ft(*, width_in: N) -> N:
    """Return the course on which fluid ounces caught per width are gallons per acre. [ft]

    Args: width_in that the nozzles caught together cover [in] > 0: the spacing, the row of several
        nozzles, or the band.
    Raises: OutOfRange if it is not positive and finite.
    Source: [OH-AEX-520]; 4083.75 / in, exact. Printed tables round or truncate to a foot.
    """
    return JAR_SQUARE_FEET * 12.0 / positive("width_in", width_in)


def jar_rate_gal_ac(*, caught_fl_oz: N, course_ft: N, width_in: N) -> N:
    """Return the rate from a catch over the time that a course takes. [US gal/ac]

    On the course of `jar_course_ft` it is the number of fluid ounces.

    Args: caught_fl_oz from all nozzles of the width [US fl oz] > 0; course_ft [ft] > 0; width_in
        that these nozzles cover [in] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [OH-AEX-520], [UF00067548].
    """
    positive("caught_fl_oz", caught_fl_oz)
    positive("course_ft", course_ft)
    return caught_fl_oz * jar_course_ft(width_in=width_in) / course_ft


def jar_rate_l_ha(*, caught_ml: N, course_m: N, width_m: N) -> N:
    """Return the rate from a catch over the time that a course takes. [L/ha]

    Args: caught_ml from all nozzles of the width [mL] > 0; course_m [m] > 0; width_m that these
        nozzles cover [m] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [ON-JAR]; on 50 m it is mL / m · 0.2.
    """
    positive("caught_ml", caught_ml)
    positive("course_m", course_m)
    positive("width_m", width_m)
    return 10.0 * caught_ml / (course_m * width_m)


def boomless_course_ft(*, swath_ft: N) -> N:
    """Return the course on which pints caught are gallons per acre, for a boomless rig. [ft]

    Args: swath_ft [ft] > 0.
    Raises: OutOfRange if it is not positive and finite.
    Source: [TX-BOOMLESS]; 5445 / ft, exact.
    """
    return BOOMLESS_SQUARE_FEET / positive("swath_ft", swath_ft)


def boomless_rate_gal_ac(*, caught_pt: N, course_ft: N, swath_ft: N) -> N:
    """Return the rate of a boomless rig from a catch over the time of a course. [US gal/ac]

    On the course of `boomless_course_ft` it is the number of pints.

    Args: caught_pt from all nozzles [US pt] > 0; course_ft [ft] > 0; swath_ft [ft] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [TX-BOOMLESS], [CLEMSON-JAR].
    """
    positive("caught_pt", caught_pt)
    positive("course_ft", course_ft)
    return caught_pt * boomless_course_ft(swath_ft=swath_ft) / course_ft


def course_speed_km_h(*, distance_m: N, seconds: N) -> N:
    """Return the ground speed over a timed course. [km/h]

    Args: distance_m [m] > 0; seconds [s] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [AGDEX-606-1]; exact.
    """
    return 3.6 * positive("distance_m", distance_m) / positive("seconds", seconds)


def course_speed_mph(*, distance_ft: N, seconds: N) -> N:
    """Return the ground speed over a timed course. [mph]

    Args: distance_ft [ft] > 0; seconds [s] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [PES-CHART]; 1 mph is 88 ft/min, exact.
    """
    positive("distance_ft", distance_ft)
    positive("seconds", seconds)
    return distance_ft * 60.0 / (seconds * FEET_PER_MINUTE_PER_MPH)


def course_time_s(*, distance_m: N, speed_km_h: N) -> N:
    """Return the time that a course takes at a speed. [s]

    Args: distance_m [m] > 0; speed_km_h [km/h] > 0.
    Raises: OutOfRange if an argument is not positive and finite.
    Source: [AGDEX-606-1]; exact.
    """
    return 3.6 * positive("distance_m", distance_m) / positive("speed_km_h", speed_km_h)


def check_gauge(*, reading_kpa: float, reference_kpa: float) -> GaugeCheck:
    """Return the error of a gauge against a reference gauge, and whether it may be. [kPa]

    Args: reading_kpa of the gauge [kPa] ≥ 0; reference_kpa [kPa] > 0.
    Raises: OutOfRange if an argument is outside its range.
    Source: [ISO-16122-2], from memory: ±0.2 bar up to 2 bar, ±10 % above.
    """
    error = not_negative("reading_kpa", reading_kpa) - positive("reference_kpa", reference_kpa)
    allowed = 20.0 if reference_kpa <= 200.0 else 0.10 * reference_kpa
    return GaugeCheck(
        error_kpa=error,
        relative=error / reference_kpa,
        allowed_kpa=allowed,
        within_limit=abs(error) <= allowed or _same(abs(error), allowed),
    )


def pattern_width_cm(*, height_cm: N, angle_deg: N) -> N:
    """Return the width of a fan on the target. [cm]

    Plane geometry: real fans droop and narrow at low pressure, so this is an upper bound.

    Args: height_cm from nozzle to target, canopy top or ground [cm] > 0; angle_deg of the fan [°],
        10 to 170.
    Raises: OutOfRange if an argument is outside its range.
    Source: [FAN-GEOMETRY].
    """
    return 2.0 * positive("height_cm", height_cm) * _half_tangent(angle_deg)


def width_to_spacing(*, height_cm: N, angle_deg: N, spacing_cm: N) -> N:
    """Return the fan's width on the target over the nozzle spacing, the overlap to store.

    Args: height_cm from nozzle to target [cm] > 0; angle_deg of the fan [°], 10 to 170; spacing_cm
        between nozzles [cm] > 0.
    Raises: OutOfRange if an argument is outside its range.
    Source: [FAN-GEOMETRY], [WOLF-SPACING].
    """
    positive("spacing_cm", spacing_cm)
    return pattern_width_cm(height_cm=height_cm, angle_deg=angle_deg) / spacing_cm


def boom_height_cm(*, spacing_cm: N, angle_deg: N, width_to_spacing: N) -> N:
    """Return the least height over the target that gives an overlap. [cm]

    Published field heights are larger; the maker's height goes before this one, and a label may
    cap it.

    Args: spacing_cm between nozzles [cm] > 0; angle_deg of the fan [°], 10 to 170;
        width_to_spacing, the fan's width over the spacing, 1 to 5: 2 is "100 % overlap".
    Raises: OutOfRange if an argument is outside its range.
    Source: [FAN-GEOMETRY], [WOLF-SPACING].
    """
    positive("spacing_cm", spacing_cm)
    within("width_to_spacing", width_to_spacing, 1.0, 5.0, "")
    return spacing_cm * width_to_spacing / (2.0 * _half_tangent(angle_deg))


def overlap_of_spacing(*, width_to_spacing: N) -> N:
    """Return the overlap as a fraction of the spacing, w/s − 1: a fan twice the spacing has 1.

    Args: width_to_spacing > 0.
    Raises: OutOfRange if it is not positive and finite.
    Source: [WOLF-SPACING].
    """
    return positive("width_to_spacing", width_to_spacing) - 1.0


def overlap_of_width(*, width_to_spacing: N) -> N:
    """Return the overlap as a fraction of the fan, 1 − s/w: a fan twice the spacing has 0.5.

    Args: width_to_spacing > 0.
    Raises: OutOfRange if it is not positive and finite.
    Source: [FAN-GEOMETRY].
    """
    return 1.0 - 1.0 / positive("width_to_spacing", width_to_spacing)


def _half_tangent(angle_deg: N) -> N:
    """Return tan(angle / 2) of a fan angle from 10° to 170°."""
    within("angle_deg", angle_deg, 10.0, 170.0, "°")
    if isinstance(angle_deg, np.ndarray):
        return np.tan(np.radians(angle_deg) / 2.0)
    return math.tan(math.radians(angle_deg) / 2.0)


def _numbers(marks: Iterable[bool]) -> tuple[int, ...]:
    """Return the numbers, from 1, of the marks that are set."""
    return tuple(number for number, mark in enumerate(marks, start=1) if mark)


def _same(value: float, limit: float) -> bool:
    """Return whether a value stands on its limit but for rounding in the last digits."""
    return math.isclose(value, limit, rel_tol=1e-9)
