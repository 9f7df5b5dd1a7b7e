"""Sunrise and sunset against astral, and at the edges of a day, a zone and the world."""

import math
from datetime import UTC, date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from astral import Observer, SunDirection
from astral.sun import time_at_elevation
from hypothesis import assume, given
from hypothesis import strategies as st

from calc.errors import OutOfRange
from calc.sun import minutes_after_sunrise, minutes_to_sunset, sun_times, sun_times_over
from tests.calc.vectors import Row, check, ids

CHICAGO = ZoneInfo("America/Chicago")
FIELD = {"latitude_deg": 41.0, "longitude_deg": -99.0, "zone": CHICAGO}


def compute(row: Row) -> float:
    x = row.inputs
    times = sun_times(
        latitude_deg=x["lat"],
        longitude_deg=x["lon"],
        day=date.fromisoformat(x["day"]),
        zone=ZoneInfo(x["zone"]),
    )
    clock = getattr(times, x["want"])
    assert clock.date().isoformat() == x["day"]
    return clock.hour * 3600 + clock.minute * 60 + clock.second + clock.microsecond / 1e6


@pytest.mark.parametrize("example", ids("sun"))
def test_worked_example(example):
    check("sun", example, {example: compute})


@given(
    latitude=st.floats(-65.0, 65.0),
    longitude=st.floats(-180.0, 180.0),
    day=st.dates(date(2015, 1, 1), date(2045, 12, 31)),
)
def test_within_a_minute_of_astral_below_65_degrees(latitude, longitude, day):
    zone = timezone(timedelta(hours=round(longitude / 15.0)))
    times = sun_times(latitude_deg=latitude, longitude_deg=longitude, day=day, zone=zone)
    for ours, side in ((times.sunrise, SunDirection.RISING), (times.sunset, SunDirection.SETTING)):
        # The oracle counts days in UTC, and slips by one where the event is beside midnight there.
        in_utc = ours.astimezone(UTC)
        assume(timedelta(minutes=5) < in_utc - in_utc.replace(hour=0, minute=0))
        assume(in_utc - in_utc.replace(hour=0, minute=0) < timedelta(hours=23, minutes=55))
        oracle = min(
            (
                time_at_elevation(
                    Observer(latitude, longitude, 0.0),
                    -0.833,
                    in_utc.date() + timedelta(days=shift),
                    side,
                    UTC,
                    with_refraction=False,
                )
                for shift in (-1, 0, 1)
            ),
            key=lambda moment: abs(moment - in_utc),
        )
        assert abs(oracle - in_utc) <= timedelta(minutes=1)


@given(
    longitude=st.floats(-180.0, 180.0),
    day=st.dates(date(2015, 1, 1), date(2045, 12, 31)),
)
def test_day_at_the_equator_is_about_twelve_hours_and_seven_minutes(longitude, day):
    # Twelve hours, and twice 50′ of zenith at four minutes to the degree.
    zone = timezone(timedelta(hours=round(longitude / 15.0)))
    times = sun_times(latitude_deg=0.0, longitude_deg=longitude, day=day, zone=zone)
    minutes = (times.sunset - times.sunrise) / timedelta(minutes=1)
    assert minutes == pytest.approx(726.9, abs=1.0)


def test_the_day_is_the_calendar_day_of_the_field_beyond_the_date_line():
    # UTC+14 east of the date line: the mean sun there is on the day before.
    times = sun_times(
        latitude_deg=1.8,
        longitude_deg=-157.4,
        day=date(2025, 1, 15),
        zone=ZoneInfo("Pacific/Kiritimati"),
    )
    assert times.sunrise.date() == times.sunset.date() == date(2025, 1, 15)
    assert times.sunrise < times.sunset


def test_minutes_after_sunrise_and_to_sunset():
    times = sun_times(day=date(2025, 6, 21), **FIELD)
    later = times.sunrise + timedelta(minutes=30)
    assert minutes_after_sunrise(instant=later, **FIELD) == pytest.approx(30.0)
    assert minutes_to_sunset(instant=later, **FIELD) == pytest.approx(
        (times.sunset - times.sunrise) / timedelta(minutes=1) - 30.0
    )


def test_before_sunrise_and_after_sunset_minutes_are_negative():
    times = sun_times(day=date(2025, 6, 21), **FIELD)
    early, late = times.sunrise - timedelta(minutes=5), times.sunset + timedelta(minutes=7)
    assert minutes_after_sunrise(instant=early, **FIELD) == pytest.approx(-5.0)
    assert minutes_to_sunset(instant=late, **FIELD) == pytest.approx(-7.0)


def test_an_instant_in_another_zone_counts_by_the_date_at_the_field():
    # 02:00 UTC on the 22nd is the evening of the 21st in the field.
    instant = datetime(2025, 6, 22, 2, 0, tzinfo=UTC)
    here = instant.astimezone(CHICAGO)
    assert minutes_to_sunset(instant=instant, **FIELD) == minutes_to_sunset(instant=here, **FIELD)
    assert minutes_to_sunset(instant=instant, **FIELD) == pytest.approx(11.5, abs=1.0)


def test_minutes_are_real_time_across_the_change_of_the_clock():
    # At 01:30 CST, after the clock went back, the sun rises about 5 h 33 min later, by the clock
    # and in truth; at 01:30 CDT, one hour before, it is an hour more.
    day = date(2025, 11, 2)
    first = datetime(2025, 11, 2, 1, 30, tzinfo=CHICAGO, fold=0)
    second = datetime(2025, 11, 2, 1, 30, tzinfo=CHICAGO, fold=1)
    gap = minutes_after_sunrise(instant=second, **FIELD) - minutes_after_sunrise(
        instant=first, **FIELD
    )
    assert gap == pytest.approx(60.0)
    assert sun_times(day=day, **FIELD).sunrise.utcoffset() == timedelta(hours=-6)


@pytest.mark.parametrize(
    ("latitude", "day", "stays"),
    [
        (70.0, date(2025, 6, 21), "above"),
        (70.0, date(2025, 12, 21), "below"),
        (-75.0, date(2025, 12, 21), "above"),
        (-75.0, date(2025, 6, 21), "below"),
        (90.0, date(2025, 6, 21), "above"),
        (-90.0, date(2025, 6, 21), "below"),
    ],
)
def test_refuses_a_day_without_sunrise(latitude, day, stays):
    with pytest.raises(
        OutOfRange,
        match=rf"^latitude_deg is {latitude}; it must be where the sun rises and sets on {day}; "
        rf"here it stays {stays} the horizon",
    ):
        sun_times(latitude_deg=latitude, longitude_deg=20.0, day=day, zone=UTC)


@pytest.mark.parametrize("bad", [-90.1, 91.0, math.nan])
def test_refuses_a_latitude_off_the_globe(bad):
    with pytest.raises(OutOfRange, match=rf"^latitude_deg is {bad}; it must be between -90 and 90"):
        sun_times(latitude_deg=bad, longitude_deg=0.0, day=date(2025, 1, 1), zone=UTC)


@pytest.mark.parametrize("bad", [-180.1, 200.0, math.nan])
def test_refuses_a_longitude_off_the_globe(bad):
    with pytest.raises(OutOfRange, match=rf"^longitude_deg is {bad}; it must be between -180 and"):
        sun_times(latitude_deg=0.0, longitude_deg=bad, day=date(2025, 1, 1), zone=UTC)


@given(
    west=st.floats(-125.0, -70.0),
    south=st.floats(25.0, 50.0),
    reach=st.tuples(st.floats(0.0, 13.0), st.floats(0.0, 10.0)),
    inside=st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 1.0)),
    day=st.dates(date(2020, 1, 1), date(2030, 12, 31)),
)
def test_the_sun_over_an_area_is_that_of_every_place_in_it(west, south, reach, inside, day):
    """Oracle: astral, at a place within; both are good to a minute."""
    bounds = {"west_deg": west, "east_deg": west + reach[0]}
    bounds |= {"south_deg": south, "north_deg": south + reach[1]}
    over = sun_times_over(**bounds, day=day, zone=CHICAGO)
    there = Observer(latitude=south + inside[1] * reach[1], longitude=west + inside[0] * reach[0])
    for direction, middle in (
        (SunDirection.RISING, over.times.sunrise),
        (SunDirection.SETTING, over.times.sunset),
    ):
        # astral's day is that of UTC: the nearest of three is the one of this local day.
        oracles = [
            time_at_elevation(
                there, -0.833, day + timedelta(days=off), direction, UTC, with_refraction=False
            )
            for off in (-1, 0, 1)
        ]
        apart = min(abs(one - middle) for one in oracles)
        assert apart <= timedelta(minutes=over.half_range_min + 2.0)


@pytest.mark.parametrize("function", [minutes_after_sunrise, minutes_to_sunset])
def test_refuses_an_instant_without_a_zone(function):
    naive = datetime(2025, 6, 21, 12, 0)  # noqa: DTZ001 -- the refusal is what is tested
    with pytest.raises(OutOfRange, match=r"^instant is '2025-06-21T12:00:00'; it must be aware of"):
        function(instant=naive, **FIELD)
