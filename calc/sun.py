"""Sunrise and sunset at a field, and how far an instant is from them.

Low-precision solar position after Meeus, as the NOAA worksheet arranges it: within a minute of an
almanac below 65° latitude over flat land. Where the sun does not rise or set that day, this raises:
a rule that asks for "after sunrise" has no answer there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from calc.errors import OutOfRange, within

HORIZON_ZENITH_DEG = 90.833
"""Upper limb on the horizon: 16′ for the radius of the sun and 34′ for refraction."""

_J2000 = datetime(2000, 1, 1, 12, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class SunTimes:
    """One day's sunrise and sunset, aware instants in the zone that was asked for."""

    sunrise: datetime
    sunset: datetime


def sun_times(*, latitude_deg: float, longitude_deg: float, day: date, zone: tzinfo) -> SunTimes:
    """Return sunrise and sunset of a local calendar day. [aware instants, ± 1 min]

    Args: latitude_deg [°] from −90 to 90, north positive; longitude_deg [°] from −180 to 180, east
        positive; day and zone, the calendar date at the field and its time zone.
    Raises: OutOfRange if a coordinate is out of range, or the sun does not rise or set that day.
    Source: [NOAA-SOLAR], after [MEEUS-1998] chapter 25.
    """
    within("latitude_deg", latitude_deg, -90.0, 90.0, "°")
    within("longitude_deg", longitude_deg, -180.0, 180.0, "°")
    # Solar noon is sought beside the clock's noon: far from its meridian a zone's date and the
    # date of the mean sun are not the same one.
    clock_noon = datetime.combine(day, time(12), tzinfo=zone).astimezone(UTC)
    minutes = clock_noon.hour * 60.0 + clock_noon.minute + longitude_deg * 4.0
    noon = clock_noon - timedelta(minutes=minutes % 1440.0 - 720.0)
    return SunTimes(
        sunrise=_crossing(noon, -1.0, latitude_deg, day).astimezone(zone),
        sunset=_crossing(noon, 1.0, latitude_deg, day).astimezone(zone),
    )


@dataclass(frozen=True, slots=True)
class SunOver:
    """Sunrise and sunset in the middle of their range over an area, and half that range. [min]"""

    times: SunTimes
    half_range_min: float


def sun_times_over(
    *,
    west_deg: float,
    south_deg: float,
    east_deg: float,
    north_deg: float,
    day: date,
    zone: tzinfo,
) -> SunOver:
    """Return sunrise and sunset of a local day anywhere within bounds. [± half of the range, min]

    Args: the bounds [°], as for `sun_times`; the first and the last sun are over corners, for both
        go with the longitude and, on any one day, with the latitude one way.
    Raises: OutOfRange as for `sun_times`, at any of the corners.
    Source: [NOAA-SOLAR], after [MEEUS-1998] chapter 25.
    """
    corners = [
        sun_times(latitude_deg=latitude, longitude_deg=longitude, day=day, zone=zone)
        for latitude in (south_deg, north_deg)
        for longitude in (west_deg, east_deg)
    ]
    middles, halves = [], []
    for instants in ([one.sunrise for one in corners], [one.sunset for one in corners]):
        half = (max(instants) - min(instants)) / 2
        middles.append(min(instants) + half)
        halves.append(half / timedelta(minutes=1))
    return SunOver(SunTimes(*middles), max(halves))


def minutes_after_sunrise(
    *, instant: datetime, latitude_deg: float, longitude_deg: float, zone: tzinfo
) -> float:
    """Return how long the sun has been up, negative before sunrise of the local date. [min]

    Args: instant, aware; the others as for `sun_times`.
    Raises: OutOfRange if the instant is naive, and as for `sun_times`.
    Source: [NOAA-SOLAR].
    """
    day = _local(instant, zone)
    times = sun_times(latitude_deg=latitude_deg, longitude_deg=longitude_deg, day=day, zone=zone)
    return _minutes(times.sunrise, instant)


def minutes_to_sunset(
    *, instant: datetime, latitude_deg: float, longitude_deg: float, zone: tzinfo
) -> float:
    """Return how long the sun will stay up, negative after sunset of the local date. [min]

    Args: instant, aware; the others as for `sun_times`.
    Raises: OutOfRange if the instant is naive, and as for `sun_times`.
    Source: [NOAA-SOLAR].
    """
    day = _local(instant, zone)
    times = sun_times(latitude_deg=latitude_deg, longitude_deg=longitude_deg, day=day, zone=zone)
    return _minutes(instant, times.sunset)


def _local(instant: datetime, zone: tzinfo) -> date:
    """Return the date of an aware instant at the field."""
    if instant.utcoffset() is None:
        raise OutOfRange("instant", instant.isoformat(), "aware of its time zone")
    return instant.astimezone(zone).date()


def _minutes(start: datetime, end: datetime) -> float:
    """Return the real time between two instants, across changes of the clock. [min]"""
    return (end.astimezone(UTC) - start.astimezone(UTC)) / timedelta(minutes=1)


def _crossing(mean_noon: datetime, side: float, latitude_deg: float, day: date) -> datetime:
    """Return when the upper limb crosses the horizon before (−1) or after (+1) noon."""
    moment = mean_noon
    # The second and third pass use the sun's place at the crossing instead of at noon.
    for _ in range(3):
        declination, equation_min = _sun(moment)
        hour_angle = _hour_angle_deg(latitude_deg, declination, day)
        moment = mean_noon + timedelta(minutes=side * 4.0 * hour_angle - equation_min)
    return moment


def _hour_angle_deg(latitude_deg: float, declination: float, day: date) -> float:
    """Return how far from noon the sun stands on the horizon. [°]"""
    latitude = math.radians(latitude_deg)
    # At a pole the horizon and the sun's circle are parallel, and the quotient is without bound.
    across = math.cos(latitude) * math.cos(declination)
    height = math.cos(math.radians(HORIZON_ZENITH_DEG)) - math.sin(latitude) * math.sin(declination)
    if abs(height) > across:
        stays = "below" if height > 0.0 else "above"
        raise OutOfRange(
            "latitude_deg",
            latitude_deg,
            "where the sun rises and sets on {day}; here it stays {stays} the horizon",
            day=day,
            stays=stays,
        )
    return math.degrees(math.acos(height / across))


def _sun(moment: datetime) -> tuple[float, float]:
    """Return the declination [rad] and the equation of time [min], [MEEUS-1998] chapters 25, 28."""
    century = (moment - _J2000) / timedelta(days=36525)
    mean_longitude = math.radians((280.46646 + century * (36000.76983 + 0.0003032 * century)) % 360)
    anomaly = math.radians(357.52911 + century * (35999.05029 - 0.0001537 * century))
    eccentricity = 0.016708634 - century * (0.000042037 + 0.0000001267 * century)
    centre = (
        math.sin(anomaly) * (1.914602 - century * (0.004817 + 0.000014 * century))
        + math.sin(2.0 * anomaly) * (0.019993 - 0.000101 * century)
        + math.sin(3.0 * anomaly) * 0.000289
    )
    node = math.radians(125.04 - 1934.136 * century)
    longitude = mean_longitude + math.radians(centre - 0.00569 - 0.00478 * math.sin(node))
    obliquity = math.radians(23.4392911 - 0.0130042 * century + 0.00256 * math.cos(node))
    declination = math.asin(math.sin(obliquity) * math.sin(longitude))

    y = math.tan(obliquity / 2.0) ** 2
    equation = (
        y * math.sin(2.0 * mean_longitude)
        - 2.0 * eccentricity * math.sin(anomaly)
        + 4.0 * eccentricity * y * math.sin(anomaly) * math.cos(2.0 * mean_longitude)
        - 0.5 * y * y * math.sin(4.0 * mean_longitude)
        - 1.25 * eccentricity * eccentricity * math.sin(2.0 * anomaly)
    )
    return declination, 4.0 * math.degrees(equation)
