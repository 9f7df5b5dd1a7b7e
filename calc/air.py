"""Air at the field: wet bulb, Delta T, drying, and the signs of a temperature inversion.

The dry bulb is measured in the shade, at the site. The wet bulb that decides is the psychrometric
one, at the true pressure of the place; the popular one-line fit (Stull 2011) is kept beside it for
comparison alone, because near an edge of a Delta T band its error is larger than the distance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np

from calc.errors import FloatArray, N, finite, not_negative, positive, within

DRY_BULB_RANGE_C = (0.0, 50.0)
"""Where the wet bulb is offered. Below freezing, a relative humidity no longer says over what."""

ELEVATION_RANGE_M = (-430.0, 5500.0)
"""From the shore of the Dead Sea to above the highest pastures (geography, from memory)."""

_MOLAR_RATIO = 0.621945
"""Molar mass of water over that of dry air, [ASHRAE-F] chapter 1."""

_HALVINGS = 40
"""50 K, halved 40 times, is below 10⁻¹⁰ K: the bisection ends far under every other error."""


def saturation_vapour_pressure_kpa(*, temperature_c: N) -> N:
    """Return the saturation vapour pressure over water. [kPa]

    Args: temperature_c [°C] from −20 to 60.
    Raises: OutOfRange outside that range.
    Source: [FAO-56] eq. 11.
    """
    return _saturation(within("temperature_c", temperature_c, -20.0, 60.0, "°C"))


def pressure_from_elevation_kpa(*, elevation_m: N) -> N:
    """Return the usual air pressure at an elevation. [kPa]

    Args: elevation_m above sea level [m] within `ELEVATION_RANGE_M`.
    Raises: OutOfRange outside that range.
    Source: [USSA-1976] eq. 33a with table 2; below 11 km the same as ICAO's.
    """
    within("elevation_m", elevation_m, *ELEVATION_RANGE_M, "m")
    pressure: N = 101.325 * (1.0 - 0.0065 * elevation_m / 288.15) ** 5.25588
    return pressure


def psychrometric_constant_kpa_k(*, pressure_kpa: N) -> N:
    """Return the psychrometric constant of the air. [kPa/K]

    Args: pressure_kpa of the air [kPa] from 45 to 110.
    Raises: OutOfRange outside that range.
    Source: [FAO-56] eq. 8.
    """
    return 0.665e-3 * _air_pressure(pressure_kpa)


def vapour_pressure_from_wet_bulb_kpa(*, dry_bulb_c: N, wet_bulb_c: N, pressure_kpa: N) -> N:
    """Return the actual vapour pressure read from a ventilated psychrometer. [kPa]

    Args: dry_bulb_c [°C] from −20 to 60; wet_bulb_c [°C], at most the dry bulb; pressure_kpa of the
        air [kPa] from 45 to 110.
    Raises: OutOfRange outside those ranges, or where the two readings leave no vapour.
    Source: [FAO-56] eq. 15 and 16, coefficient 0.000662 1/K for forced ventilation at about 5 m/s.
    """
    within("dry_bulb_c", dry_bulb_c, -20.0, 60.0, "°C")
    within("wet_bulb_c", wet_bulb_c, -20.0, 60.0, "°C")
    _air_pressure(pressure_kpa)
    not_negative("dry_bulb_c − wet_bulb_c", dry_bulb_c - wet_bulb_c)
    vapour = _saturation(wet_bulb_c) - 0.000662 * pressure_kpa * (dry_bulb_c - wet_bulb_c)
    return not_negative("vapour pressure from these readings", vapour)


def vapour_pressure_deficit_kpa(*, dry_bulb_c: N, relative_humidity_percent: N) -> N:
    """Return how much vapour pressure is missing to saturation. [kPa]

    Args: dry_bulb_c [°C] from −20 to 60; relative_humidity_percent [%] from 0 to 100.
    Raises: OutOfRange outside those ranges.
    Source: [FAO-56] eq. 11 and 17.
    """
    saturation = saturation_vapour_pressure_kpa(temperature_c=dry_bulb_c)
    within("relative_humidity_percent", relative_humidity_percent, 0.0, 100.0, "%")
    return saturation * (1.0 - relative_humidity_percent / 100.0)


def wet_bulb_c(*, dry_bulb_c: N, relative_humidity_percent: N, pressure_kpa: N) -> N:
    """Return the thermodynamic wet-bulb temperature, by bisection of the energy balance. [°C]

    Where a wet bulb just below freezing could carry either water or ice, the answer is that of
    water if it comes out at 0 °C or above, otherwise that of ice.

    Args: dry_bulb_c [°C] from 0 to 50; relative_humidity_percent [%] from 1 to 100; pressure_kpa of
        the air [kPa] from 45 to 110.
    Raises: OutOfRange outside those ranges.
    Source: [ASHRAE-F] chapter 1, eq. 33 and 35; saturation by [FAO-56] eq. 11 and [MURRAY-1967].
    """
    within("dry_bulb_c", dry_bulb_c, *DRY_BULB_RANGE_C, "°C")
    within("relative_humidity_percent", relative_humidity_percent, 1.0, 100.0, "%")
    _air_pressure(pressure_kpa)
    held = _held(dry_bulb_c, relative_humidity_percent, pressure_kpa)
    if isinstance(held, np.ndarray):
        dry, pressure, held = np.broadcast_arrays(dry_bulb_c, pressure_kpa, held)
        over_water = held >= _held_over_water(dry, np.zeros_like(dry), pressure)
        low, high = np.where(over_water, 0.0, -20.0), np.where(over_water, dry, 0.0)
        some_over_ice = not over_water.all()
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            holds = _held_over_water(dry, middle, pressure)
            if some_over_ice:
                holds = np.where(over_water, holds, _held_over_ice(dry, middle, pressure))
            low = np.where(holds < held, middle, low)
            high = np.where(holds < held, high, middle)
        return 0.5 * (low + high)
    # One air at a time, as a record has it: plain floats are a tenth of the cost.
    wet = held >= _held_over_water(dry_bulb_c, 0.0, pressure_kpa)
    holds_at = _held_over_water if wet else _held_over_ice
    bottom, top = (0.0, dry_bulb_c) if wet else (-20.0, 0.0)
    for _ in range(_HALVINGS):
        half = 0.5 * (bottom + top)
        if holds_at(dry_bulb_c, half, pressure_kpa) < held:
            bottom = half
        else:
            top = half
    return 0.5 * (bottom + top)


def wet_bulb_stull_c(*, dry_bulb_c: N, relative_humidity_percent: N) -> N:
    """Return the wet bulb of the one-line fit, for comparison only. [°C]

    Off by −1.0 to +0.65 K, by 0.28 K on average; never used to decide.

    Args: dry_bulb_c [°C] from −20 to 50; relative_humidity_percent [%] from 5 to 99.
    Raises: OutOfRange outside those ranges.
    Source: [STULL-2011] eq. 1; sea-level pressure.
    """
    t = within("dry_bulb_c", dry_bulb_c, -20.0, 50.0, "°C")
    h = within("relative_humidity_percent", relative_humidity_percent, 5.0, 99.0, "%")
    wet = np.asarray(
        t * np.arctan(0.151977 * np.sqrt(h + 8.313659))
        + np.arctan(t + h)
        - np.arctan(h - 1.676331)
        + 0.00391838 * h**1.5 * np.arctan(0.023101 * h)
        - 4.686035
    )
    result: N = _plain(wet)
    return result


def delta_t_k(*, dry_bulb_c: N, relative_humidity_percent: N, pressure_kpa: N) -> N:
    """Return Delta T, the dry bulb less the wet bulb: how fast drops dry. [K]

    Args: as for `wet_bulb_c`.
    Raises: OutOfRange as for `wet_bulb_c`.
    Source: [ASHRAE-F] chapter 1 by `wet_bulb_c`.
    """
    wet = wet_bulb_c(
        dry_bulb_c=dry_bulb_c,
        relative_humidity_percent=relative_humidity_percent,
        pressure_kpa=pressure_kpa,
    )
    return dry_bulb_c - wet


@dataclass(frozen=True, slots=True)
class DeltaTBand:
    """One band of Delta T.

    Attributes: low_k (from here on) and high_k (up to and with), None where open; word; advice.
    """

    low_k: float | None
    high_k: float | None
    word: str
    advice: str


DELTA_T_BANDS: tuple[DeltaTBand, ...] = (
    DeltaTBand(None, 2.0, "caution", "drops hardly dry and stay afloat; look for an inversion"),
    DeltaTBand(2.0, 8.0, "preferred", "drying is neither too slow nor too fast"),
    DeltaTBand(8.0, 10.0, "caution", "drops dry fast; small ones are lost"),
    DeltaTBand(10.0, None, "do not spray", "drops dry too fast to reach the target"),
)
"""The bands in common use, [BOM-DELTA-T], [GRDC-10]; a label that names its own limits outranks."""


def delta_t_band(*, delta_t_k: float) -> DeltaTBand:
    """Return the band that a Delta T lies in; exactly 2, 8 and 10 K belong to the milder band.

    Args: delta_t_k [K] ≥ 0.
    Raises: OutOfRange if it is negative or not finite.
    Source: [BOM-DELTA-T], [GRDC-10].
    """
    not_negative("delta_t_k", delta_t_k)
    damp, preferred, dry, too_dry = DELTA_T_BANDS
    if delta_t_k < 2.0:
        return damp
    if delta_t_k <= 8.0:
        return preferred
    return dry if delta_t_k <= 10.0 else too_dry


@dataclass(frozen=True, slots=True)
class DropLife:
    """How long a drop of pure water lasts in still air, and how far it falls meanwhile."""

    seconds: float
    fall_m: float


def drop_life(*, diameter_um: float, delta_t_k: float) -> DropLife:
    """Return the life of a drop of pure water in still air, for comparison only. [s, m]

    Args: diameter_um [µm] > 0, at most 200; delta_t_k [K] > 0.
    Raises: OutOfRange outside those ranges.
    Source: [AMSDEN-1962], from memory of the table in a textbook.
    """
    positive("diameter_um", diameter_um)
    within("diameter_um", diameter_um, 0.0, 200.0, "µm")
    rate = 80.0 * positive("delta_t_k", delta_t_k)
    return DropLife(seconds=diameter_um**2 / rate, fall_m=1.5e-5 * diameter_um**4 / rate)


class Likelihood(StrEnum):
    """What the signs of an inversion come to; no sign proves that there is none."""

    LIKELY = "likely"
    POSSIBLE = "possible"
    NOT_INDICATED = "not indicated"
    NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True)
class InversionReading:
    """What the signs of an inversion come to.

    Attributes: likelihood; signs_for and signs_against, the signs that spoke, in words; not_known,
    the names of the inputs that were not given.
    """

    likelihood: Likelihood
    signs_for: tuple[str, ...]
    signs_against: tuple[str, ...]
    not_known: tuple[str, ...]


NIGHT_BEFORE_SUNSET_MIN = 120.0
"""Inversions begin one to two hours before sunset, [GRDC-10]; the earlier is the safe figure."""

NIGHT_AFTER_SUNRISE_MIN = 60.0
"""They end about one hour after sunrise, [GRDC-10]."""

STIRRING_WIND_KM_H = 11.0
"""Wind above this, all the time, keeps the air mixed, [IREC-197]."""

LIGHT_WIND_KM_H = 3.0
"""Wind below this lets the air settle in layers, [CANOLA-INV]."""

CLEAR_SKY_PERCENT = 25.0
"""At or below this cloud cover the ground cools freely, [CANOLA-INV]."""

OVERCAST_PERCENT = 90.0
"""What counts here as continuous cloud; common practice, no source."""


def inversion_signs(
    *,
    minutes_to_sunset: float | None = None,
    minutes_after_sunrise: float | None = None,
    wind_speed_km_h: float | None = None,
    cloud_percent: float | None = None,
    above_less_below_k: float | None = None,
    mist: bool | None = None,
    dew_or_frost: bool | None = None,
    smoke_hangs: bool | None = None,
    steady_rain: bool | None = None,
) -> InversionReading:
    """Return how likely a temperature inversion is, and the signs that say so.

    *Likely*: warmer air was measured above, or smoke hangs in a sheet, or there is mist, or it is
    the night window, wind and cloud are known and nothing keeps the air mixed. *Possible*: any
    other sign, or the night window with wind or cloud not known. *Not known*: no sign for or
    against, and the time of day is not known. *Not indicated* is not a proof that there is none.

    Args: minutes_to_sunset [min], negative once the sun is down; minutes_after_sunrise [min],
        negative before it is up; wind_speed_km_h [km/h] ≥ 0; cloud_percent [%] from 0 to 100;
        above_less_below_k, the temperature at 8–10 ft less that at 6–12 in [K]; mist, dew_or_frost,
        smoke_hangs (hangs or moves as a sheet) and steady_rain, seen or not. None is not known.
    Raises: OutOfRange if a number is outside its range or not finite.
    Source: [NDSU-AE1705] (difference), [GRDC-10] (hours), [IREC-197] (what prevents one),
        [CANOLA-INV] (what is seen); joining them to one word is [INVERSION-WORD].
    """
    given = {
        "minutes_to_sunset": minutes_to_sunset,
        "minutes_after_sunrise": minutes_after_sunrise,
        "wind_speed_km_h": wind_speed_km_h,
        "cloud_percent": cloud_percent,
        "above_less_below_k": above_less_below_k,
        "mist": mist,
        "dew_or_frost": dew_or_frost,
        "smoke_hangs": smoke_hangs,
        "steady_rain": steady_rain,
    }
    for name in ("minutes_to_sunset", "minutes_after_sunrise", "above_less_below_k"):
        if (number := given[name]) is not None:
            finite(name, float(number))
    if wind_speed_km_h is not None:
        not_negative("wind_speed_km_h", wind_speed_km_h)
    if cloud_percent is not None:
        within("cloud_percent", cloud_percent, 0.0, 100.0, "%")

    warmer_above = above_less_below_k is not None and above_less_below_k > 0.0
    not_warmer_above = above_less_below_k is not None and above_less_below_k <= 0.0
    night = (minutes_to_sunset is not None and minutes_to_sunset <= NIGHT_BEFORE_SUNSET_MIN) or (
        minutes_after_sunrise is not None and minutes_after_sunrise <= NIGHT_AFTER_SUNRISE_MIN
    )
    light_wind = wind_speed_km_h is not None and wind_speed_km_h < LIGHT_WIND_KM_H
    stirred = wind_speed_km_h is not None and wind_speed_km_h > STIRRING_WIND_KM_H
    clear_night = night and cloud_percent is not None and cloud_percent <= CLEAR_SKY_PERCENT
    overcast = cloud_percent is not None and cloud_percent >= OVERCAST_PERCENT

    strong = _spoken(
        (warmer_above, "the air is warmer above than below"),
        (mist, "mist"),
        (smoke_hangs, "smoke hangs or moves as a sheet"),
    )
    window = _spoken((night, "from two hours before sunset to one hour after sunrise"))
    weak = _spoken(
        (light_wind, "wind below 3 km/h"),
        (clear_night, "clear sky at night"),
        (dew_or_frost, "dew or frost"),
    )
    against = _spoken(
        (not_warmer_above, "the air is not warmer above than below"),
        (stirred, "wind above 11 km/h"),
        (overcast, "continuous cloud"),
        (steady_rain, "steady rain"),
    )
    unmixed = bool(window) and not against
    time_known = minutes_to_sunset is not None or minutes_after_sunrise is not None
    if strong or (unmixed and wind_speed_km_h is not None and cloud_percent is not None):
        likelihood = Likelihood.LIKELY
    elif weak or unmixed:
        likelihood = Likelihood.POSSIBLE
    elif time_known or against:
        likelihood = Likelihood.NOT_INDICATED
    else:
        likelihood = Likelihood.NOT_KNOWN
    return InversionReading(
        likelihood=likelihood,
        signs_for=strong + window + weak,
        signs_against=against,
        not_known=tuple(name for name, value in given.items() if value is None),
    )


def _spoken(*signs: tuple[bool | None, str]) -> tuple[str, ...]:
    """Return the words of the signs that were seen."""
    return tuple(words for seen, words in signs if seen)


def _plain(values: FloatArray) -> Any:
    """Return a float for an array without dimensions, any other array unchanged."""
    return values.item() if values.ndim == 0 else values


def _air_pressure(pressure_kpa: N) -> N:
    """Return the pressure unchanged, within what fields and mountain tops have."""
    return within("pressure_kpa", pressure_kpa, 45.0, 110.0, "kPa")


def _saturation(temperature_c: N) -> N:
    """Return the saturation vapour pressure over water, [FAO-56] eq. 11. [kPa]"""
    power = 17.27 * temperature_c / (temperature_c + 237.3)
    return 0.6108 * _exp(power)


def _exp(power: N) -> N:
    """Return the exponential as a float of a float, as an array of an array."""
    return np.exp(power) if isinstance(power, np.ndarray) else math.exp(power)


def _held(dry: N, humidity_percent: N, pressure: N) -> N:
    """Return the humidity ratio of air of this humidity, [ASHRAE-F] eq. 20. [kg/kg]"""
    vapour = humidity_percent / 100.0 * _saturation(dry)
    return _MOLAR_RATIO * vapour / (pressure - vapour)


def _held_over_water(dry: N, wet: N, pressure: N) -> N:
    """Return the humidity ratio of air with this wet bulb, [ASHRAE-F] eq. 33. [kg/kg]"""
    saturation = _saturation(wet)
    full = _MOLAR_RATIO * saturation / (pressure - saturation)
    return ((2501.0 - 2.326 * wet) * full - 1.006 * (dry - wet)) / (
        2501.0 + 1.86 * dry - 4.186 * wet
    )


def _held_over_ice(dry: N, wet: N, pressure: N) -> N:
    """Return the humidity ratio of air with this ice bulb, [ASHRAE-F] eq. 35. [kg/kg]"""
    saturation = 0.6108 * _exp(21.875 * wet / (wet + 265.5))
    full = _MOLAR_RATIO * saturation / (pressure - saturation)
    return ((2830.0 - 0.24 * wet) * full - 1.006 * (dry - wet)) / (2830.0 + 1.86 * dry - 2.1 * wet)
