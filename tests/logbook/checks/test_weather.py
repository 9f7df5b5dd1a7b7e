"""The readings: when, wind, height, temperature, sun, inversion, Delta T."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import psychrolib
import pytest
from astral import Observer
from astral.sun import sunrise, sunset
from pyproj.datadir import get_data_dir

from logbook.checks import weather
from logbook.checks.core import CannotRun, Severity
from logbook.checks.daylight import EXTENTS
from logbook.localization.places import offered
from tests.logbook.checks.build import DAY, at, clean, given, lack, look, q, reading, the
from tests.logbook.checks.build import label as a_label

LABEL = "products__0__label"
ZONE = ZoneInfo("America/Chicago")
HERE = Observer(latitude=47.103, longitude=-97.196)


def stated(sentence: str, after: str) -> float:
    """Return the number that stands in a sentence right after some words."""
    return float(sentence.partition(after)[2].partition(" ")[0])


# --- when ------------------------------------------------------------------------------------


def test_readings_through_the_spraying_agree() -> None:
    assert look(weather.weather_times) == []


def test_a_reading_a_quarter_hour_before_the_start_still_speaks_for_it() -> None:
    early = (reading("8:45"), reading("9:45"), reading("10:45"), reading("11:45"))
    assert look(weather.weather_times, weather=early) == []


def test_no_reading_during_the_spraying_is_missing() -> None:
    finding = the(weather.weather_times, weather=(reading("7:00"), reading("14:00")))
    assert finding.severity is Severity.MISSING
    assert finding.sentence == (
        "No weather was read during the spraying, 09:00 to 12:15; the readings are of 07:00 and "
        "14:00."
    )


def test_more_than_an_hour_without_a_reading_is_a_caution() -> None:
    # Florida F.A.C. 5E-2.033 asks for hourly wind; elsewhere it is practice.
    finding = the(weather.weather_times, weather=(reading("9:00"), reading("12:00")))
    assert finding.severity is Severity.CAUTION
    assert finding.sentence == (
        "No weather was read between 09:00 and 12:00; to judge the drift of a spraying there "
        "should be a reading at least every hour."
    )


FAR = (*clean().weather, reading("16:00", wind_speed=q("25 mph"), signs=("mist",)))


def test_a_reading_long_after_the_end_is_named_and_held_against_no_limit() -> None:
    finding = the(weather.weather_times, weather=FAR)
    assert finding.severity is Severity.CAUTION
    assert finding.sentence == (
        "Weather read at 16:00 is too far from the spraying, 09:00 to 12:15, to speak for it; no "
        "limit was held against it."
    )
    assert look(weather.wind_window, weather=FAR) == []
    assert look(weather.inversion, weather=FAR) == []


@pytest.mark.parametrize(
    ("clock", "breaches"), [("8:00", 1), ("7:59", 0), ("12:45", 1), ("12:46", 0)]
)
def test_a_reading_counts_from_an_hour_before_to_half_an_hour_after(
    clock: str, breaches: int
) -> None:
    weather_read = (*clean().weather, reading(clock, wind_speed=q("25 mph")))
    assert len(look(weather.wind_window, weather=weather_read)) == breaches


def test_a_reading_of_another_day_is_named_with_its_day() -> None:
    other_day = reading("10:00", read_at=at("10:00").replace(day=12))
    finding = the(weather.weather_times, weather=(*clean().weather, other_day))
    assert finding.sentence.startswith("Weather read at 10:00 on 2026-06-12 is too far")


def test_with_far_readings_alone_the_limits_cannot_be_looked_at() -> None:
    far = (reading("16:00"),)
    assert lack(weather.wind_window, weather=far).why == (
        "no weather was read near the time of the spraying"
    )


def test_the_times_of_the_readings_need_start_end_and_weather() -> None:
    lacking = lack(
        weather.weather_times, record__started_at=None, record__finished_at=None, weather=()
    )
    assert set(lacking.needs) == {"started_at", "finished_at", "weather"}


# --- wind ------------------------------------------------------------------------------------


@pytest.mark.parametrize("speed", ["3 mph", "15 mph", "4.828032 km/h"])
def test_wind_on_the_limit_agrees(speed: str) -> None:
    # 3 mph = 4.828032 km/h, exact.
    assert look(weather.wind_window, weather__1__wind_speed=q(speed)) == []


def test_wind_above_the_label_is_a_breach_beside_that_reading() -> None:
    finding = the(weather.wind_window, weather__2__wind_speed=q("16 mph"))
    assert finding.severity is Severity.BREACH
    assert finding.about == "weather.2.wind_speed"
    assert finding.sentence == "Wind 16 mph at 11:00, label asks 3 to 15 mph."
    assert finding.basis == "Label of Fenland 4 EC, edition 2025-01"


def test_wind_below_the_label_is_a_breach() -> None:
    finding = the(weather.wind_window, weather__0__wind_speed=q("2 mph"))
    assert finding.sentence == "Wind 2 mph at 09:00, label asks 3 to 15 mph."


def test_a_gust_above_the_label_is_a_breach_of_its_own() -> None:
    finding = the(weather.wind_window, weather__3__gust=q("18 mph"))
    assert finding.sentence == "Gust 18 mph at 12:00, label asks at most 15 mph."
    assert finding.about == "weather.3.gust"


def test_no_wind_at_all_is_below_a_least_wind() -> None:
    finding = the(weather.wind_window, weather__0__wind_speed=q("none"))
    assert finding.severity is Severity.BREACH
    assert finding.sentence == "Wind none at 09:00, label asks 3 to 15 mph."
    assert "no wind" in the(weather.inversion, weather__0__wind_speed=q("none")).sentence


def test_a_wind_in_another_unit_has_the_limit_beside_it() -> None:
    # 3 and 15 mph are 4.828 and 24.14 km/h, exact factor 1.609344.
    finding = the(weather.wind_window, weather__2__wind_speed=q("30 km/h"))
    assert finding.sentence == (
        "Wind 30 km/h at 11:00, label asks 3 to 15 mph (4.83 to 24.1 km/h)."
    )
    assert "Stop" not in finding.settle
    ahead = the(weather.wind_window, weather__2__wind_speed=q("30 km/h"), record__finished_at=None)
    assert ahead.settle.startswith("Stop until the label's limits are met")


def test_no_gusts_is_an_answer() -> None:
    assert look(weather.wind_window, weather__0__gust=q("none")) == []


def test_a_least_wind_alone_asks_nothing_of_gusts() -> None:
    least = {f"{LABEL}__wind_max": None, "weather__0__gust": None}
    assert look(weather.wind_window, **least) == []


def test_the_strictest_wind_of_two_labels_counts() -> None:
    second = {"products__1__label": a_label(wind_max=q("10 mph"))}
    sentences = {finding.sentence for finding in look(weather.wind_window, **second)}
    assert "Gust 11 mph at 09:00, label asks at most 10 mph." in sentences
    assert len(sentences) == 4


def test_a_blank_wind_is_missing_and_the_other_readings_are_still_looked_at() -> None:
    run = iter(
        weather.wind_window.look(
            given(weather__0__wind_speed=q("20 mph"), weather__1__wind_speed=None)
        )
    )
    assert next(run).about == "weather.0.wind_speed"
    with pytest.raises(CannotRun, match="the wind at 10:00"):
        next(run)


def test_wind_not_measured_is_quoted() -> None:
    broken = q("not measured: meter broken")
    assert lack(weather.wind_window, weather__1__wind_speed=broken).why == (
        "the wind at 10:00 was not measured: meter broken"
    )


# --- height of the reading -------------------------------------------------------------------


def test_wind_read_near_the_boom_agrees() -> None:
    assert look(weather.wind_height) == []


def test_wind_read_high_up_is_a_caution_and_not_converted() -> None:
    finding = the(weather.wind_height, weather__0__height=q("10 m"))
    assert finding.severity is Severity.CAUTION
    assert "The wind at 09:00 was read at 10 m" in finding.sentence
    assert "is not converted here" in finding.sentence


def test_without_a_wind_window_the_height_does_not_matter() -> None:
    silent = {f"{LABEL}__wind_min": None, f"{LABEL}__wind_max": None}
    assert look(weather.wind_height, weather__0__height=None, **silent) == []


def test_a_blank_height_is_missing() -> None:
    assert lack(weather.wind_height, weather__0__height=None).needs == {
        "weather.0.height": "the wind height at 09:00"
    }


# --- temperature -----------------------------------------------------------------------------


@pytest.mark.parametrize("temperature", ["90 °F", "40 °F", "32.2 °C"])
def test_a_temperature_within_the_label_agrees(temperature: str) -> None:
    assert look(weather.temperature_limits, weather__0__temperature=q(temperature)) == []


def test_a_temperature_above_the_label_is_a_breach() -> None:
    # 33 °C = 91.4 °F.
    finding = the(weather.temperature_limits, weather__3__temperature=q("33 °C"))
    assert finding.severity is Severity.BREACH
    assert (
        finding.sentence == "Temperature 33 °C at 12:00, label asks 40 to 90 °F (4.44 to 32.2 °C)."
    )


def test_a_blank_temperature_is_missing() -> None:
    assert lack(weather.temperature_limits, weather__0__temperature=None).needs == {
        "weather.0.temperature": "the temperature at 09:00"
    }


# --- time of day -----------------------------------------------------------------------------


def test_hours_well_inside_the_day_agree() -> None:
    assert look(weather.time_of_day) == []


def test_a_start_too_soon_after_sunrise_is_a_breach() -> None:
    # Oracle: astral; two computations that round to the minute may be a minute apart.
    risen = sunrise(HERE, date=DAY, tzinfo=ZONE)
    finding = the(weather.time_of_day, record__started_at=at("6:00"))
    minutes = (at("6:00") - risen).total_seconds() / 60.0
    assert finding.severity is Severity.BREACH
    assert finding.about == "started_at"
    assert stated(finding.sentence, "06:00, ") == pytest.approx(minutes, abs=1.5)
    assert "min after sunrise (05:3" in finding.sentence
    assert finding.sentence.endswith("label asks not before 60 min after sunrise.")


def test_an_end_too_near_sunset_is_a_breach() -> None:
    down = sunset(HERE, date=DAY, tzinfo=ZONE)
    finding = the(weather.time_of_day, record__finished_at=at("20:00"))
    minutes = (down - at("20:00")).total_seconds() / 60.0
    assert finding.about == "finished_at"
    assert stated(finding.sentence, "20:00, ") == pytest.approx(minutes, abs=1.5)
    assert "min before sunset (21:2" in finding.sentence
    assert finding.sentence.endswith("label asks not later than 120 min before sunset.")


def test_within_a_minute_of_the_limit_it_cannot_be_decided() -> None:
    # The NOAA equations are good to a minute below 65° of latitude.
    risen = sunrise(HERE, date=DAY, tzinfo=ZONE)
    finding = the(weather.time_of_day, record__started_at=risen.replace(hour=risen.hour + 1))
    assert finding.undecided
    assert finding.severity is Severity.CAUTION
    assert finding.sentence.endswith("sunrise and sunset are known to 1 min.")


def test_spraying_through_the_night_is_after_sunset() -> None:
    overnight = at("15:00").replace(day=11)
    finding = the(weather.time_of_day, record__finished_at=overnight)
    assert finding.about == "finished_at"


@pytest.mark.parametrize("silent", ["minutes_after_sunrise", "minutes_before_sunset"])
def test_a_label_that_names_one_bound_is_held_to_that_one(silent: str) -> None:
    both = {"record__started_at": at("6:00"), "record__finished_at": at("20:00")}
    assert len(look(weather.time_of_day, **both)) == 2
    the(weather.time_of_day, **both, **{f"{LABEL}__{silent}": None})


def test_the_sun_needs_the_place_and_the_hours() -> None:
    lacking = lack(
        weather.time_of_day,
        record__started_at=None,
        field__latitude=None,
        field__longitude=None,
    )
    assert set(lacking.needs) == {"started_at"}
    # No state or province of which it is known how far it reaches.
    lacking = lack(weather.time_of_day, **NO_OUTLINE, field__place="AU-NSW")
    assert set(lacking.needs) == {"field.boundary"}
    assert lack(weather.time_of_day, field=None).needs == {"field": "field"}


NO_OUTLINE = {"field__boundary": None, "field__latitude": None, "field__longitude": None}
# Of North Dakota, whole degrees within its borders (a road map, from memory).
CORNERS = [Observer(latitude=y, longitude=x) for y in (45.95, 49.0) for x in (-104.04, -96.6)]


def test_without_an_outline_it_is_by_the_sun_of_the_state_and_says_how_well_that_is_known() -> None:
    risen = [sunrise(one, date=DAY, tzinfo=ZONE) for one in CORNERS]
    spread = (max(risen) - min(risen)).total_seconds() / 60.0
    finding = the(weather.time_of_day, **NO_OUTLINE, record__started_at=at("5:30"))
    assert finding.severity is Severity.BREACH
    told = "; by the sun over US-ND, for the field has no outline: known to "
    assert stated(finding.sentence, told) == pytest.approx(spread / 2.0 + 1.0, abs=2.0)
    assert look(weather.time_of_day, **NO_OUTLINE) == []


def test_at_twilight_the_sun_of_the_state_decides_nothing() -> None:
    # An hour after the first sunrise in the state and not yet an hour after the last.
    risen = sorted(sunrise(one, date=DAY, tzinfo=ZONE) for one in CORNERS)
    between = risen[0] + (risen[-1] - risen[0]) / 2 + timedelta(hours=1)
    finding = the(weather.time_of_day, **NO_OUTLINE, record__started_at=between)
    assert (finding.undecided, finding.severity) == (True, Severity.CAUTION)


def test_how_far_each_place_reaches_is_what_epsg_says() -> None:
    """The areas of use of the EPSG dataset, as pyproj carries them."""
    with closing(sqlite3.connect(Path(get_data_dir(), "proj.db"))) as epsg:
        found = epsg.execute(
            "SELECT name, west_lon, south_lat, east_lon, north_lat FROM extent "
            "WHERE auth_name = 'EPSG' AND (name LIKE 'USA - %' OR name LIKE 'Canada - %')"
        ).fetchall()
    areas = {name: bounds for name, *bounds in found}
    compared = 0
    for place, ours in EXTENTS.items():
        country = {"US": "USA", "CA": "Canada"}[place[:2]]
        area = areas.get(f"{country} - {offered()[place]}")
        if area is None or place == "US-AK":  # its islands go beyond 180°
            continue
        west, south, east, north = (
            sign * (theirs - own)
            for sign, own, theirs in zip((1, 1, -1, -1), ours, area, strict=True)
        )
        assert all(-1e-9 <= one < 0.1 for one in (west, south, east, north)), place
        compared += 1
    assert compared >= 55
    lacking = {one for one in offered() if one[:2] in ("US", "CA")} - set(EXTENTS)
    assert lacking == {"CA-NU", "US-GU", "US-PR", "US-VI"}


def test_where_the_sun_does_not_set_the_check_says_so() -> None:
    lacking = lack(weather.time_of_day, field__latitude=80.0)
    assert lacking.why.startswith("no sunrise or sunset at the field: latitude is 80 °")


# --- inversion -------------------------------------------------------------------------------


def test_mixed_air_by_day_shows_no_sign() -> None:
    assert look(weather.inversion) == []


@pytest.mark.parametrize("sign", ["mist", "smoke layer"])
def test_a_strong_sign_is_a_breach_where_the_label_forbids_it(sign: str) -> None:
    # Canola Council of Canada: smoke that hangs or moves as a sheet, mist.
    finding = the(weather.inversion, weather__0__signs=(sign,))
    assert finding.severity is Severity.BREACH
    assert finding.about == "weather.0.signs"
    assert finding.sentence.startswith("A temperature inversion was likely at 09:00, by this sign")
    assert finding.sentence.endswith(". The label forbids spraying in one.")
    assert "Wait" not in finding.settle
    assert finding.basis.startswith("Label of Fenland 4 EC, edition 2025-01; GRDC")


def test_the_same_sign_is_a_caution_where_the_label_is_silent() -> None:
    silent = {f"{LABEL}__inversion_forbidden": False, "weather__0__signs": ("mist",)}
    finding = the(weather.inversion, **silent)
    assert finding.severity is Severity.CAUTION
    assert finding.sentence == "A temperature inversion was likely at 09:00, by this sign: mist."
    assert finding.basis == "GRDC Spray Application Manual, module 10; NDSU AE1705"


def test_a_weak_sign_is_a_caution_even_where_the_label_forbids_it() -> None:
    finding = the(weather.inversion, weather__2__wind_speed=q("1 mph"))
    assert finding.severity is Severity.CAUTION
    assert "was possible at 11:00, by this sign: a light wind of 1 mph." in finding.sentence


def test_a_calm_clear_evening_is_likely_an_inversion() -> None:
    # GRDC module 10.8: from one to two hours before sunset; sunset is at 21:23.
    evening = reading("20:30", wind_speed=q("1 mph"), cloud=q("0 %"))
    finding = the(weather.inversion, weather=(evening,), record__finished_at=at("20:40"))
    assert finding.severity is Severity.BREACH
    assert "these signs: the hours from two hours before sunset" in finding.sentence


def test_signs_not_said_are_asked_for_where_the_label_forbids_an_inversion() -> None:
    unsaid = {"weather__0__signs": None}
    assert lack(weather.inversion, **unsaid).needs == {
        "weather.0.signs": "what was seen of an inversion at 09:00"
    }
    assert look(weather.inversion, **unsaid, **{f"{LABEL}__inversion_forbidden": False}) == []


def test_rain_and_cumulus_are_no_signs_for_an_inversion() -> None:
    assert look(weather.inversion, weather__0__signs=("rain", "cumulus")) == []


def test_inversion_needs_wind_cloud_and_place_but_a_sign_still_speaks() -> None:
    lacking = lack(weather.inversion, weather__0__wind_speed=None, weather__0__cloud=None)
    assert set(lacking.needs) == {"weather.0.wind_speed", "weather.0.cloud"}
    assert "field" in lack(weather.inversion, field=None).needs
    assert "weather" in lack(weather.inversion, weather=()).needs


def test_without_an_outline_the_night_is_as_long_as_it_may_be_in_the_state() -> None:
    # Sunset at the field is 21:23, in the east of the state 21:1x: at 19:20 it may be two hours.
    evening = reading("19:20", wind_speed=q("6 mph"), cloud=q("0 %"))
    there = {"weather": (evening,), "record__finished_at": at("19:40")}
    assert look(weather.inversion, **there) == []
    finding = the(weather.inversion, **there, **NO_OUTLINE)
    assert "the hours from two hours before sunset" in finding.sentence
    assert finding.basis.endswith("; night by the sun over US-ND, for the field has no outline")


# --- Delta T ---------------------------------------------------------------------------------


def test_preferred_drying_agrees() -> None:
    assert look(weather.delta_t) == []


@pytest.mark.parametrize(
    ("temperature", "humidity", "advice"),
    [
        # 28 °C, 35 % → 10.45; 10 °C, 90 % → 0.84 (psychrolib).
        ("28 °C", "35 %", "drops dry too fast to reach the target"),
        ("10 °C", "90 %", "drops hardly dry and stay afloat; look for an inversion"),
        ("30 °C", "48 %", "drops dry fast; small ones are lost"),
    ],
)
def test_delta_t_outside_two_to_eight_is_a_caution(
    temperature: str, humidity: str, advice: str
) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    dry, share = q(temperature).si, q(humidity).si / 100.0
    wet = psychrolib.GetTWetBulbFromRelHum(dry, share, 101325.0)
    finding = the(
        weather.delta_t, weather__1__temperature=q(temperature), weather__1__humidity=q(humidity)
    )
    assert finding.severity is Severity.CAUTION
    assert finding.about == "weather.1.humidity"
    # 0.05 K is what the psychrometric method agrees to.
    assert stated(finding.sentence, " was ") == pytest.approx(dry - wet, abs=0.05)
    assert advice in finding.sentence
    assert " °C (at sea level, as the elevation of the field is blank), outside" in finding.sentence


def test_delta_t_is_that_of_the_air_at_the_field() -> None:
    # psychrolib: 30 °C and 50 % are 7.99 K at sea level, within the band, and 8.48 K at 5000 ft.
    air = {"weather__1__temperature": q("30 °C"), "weather__1__humidity": q("50 %")}
    assert look(weather.delta_t, **air) == []
    psychrolib.SetUnitSystem(psychrolib.SI)
    pressure = psychrolib.GetStandardAtmPressure(5000 * 0.3048)
    oracle = 30.0 - psychrolib.GetTWetBulbFromRelHum(30.0, 0.5, pressure)
    for elevation in ("5000 ft", "1524 m"):
        finding = the(weather.delta_t, **air, field__elevation=q(elevation))
        assert stated(finding.sentence, " was ") == pytest.approx(oracle, abs=0.05)
        assert f" °C (at {elevation} above the sea), outside" in finding.sentence


def test_delta_t_needs_temperature_and_humidity() -> None:
    lacking = lack(weather.delta_t, weather__0__temperature=None, weather__1__humidity=None)
    assert set(lacking.needs) == {"weather.0.temperature", "weather.1.humidity"}


def test_delta_t_is_not_defined_below_freezing() -> None:
    lacking = lack(weather.delta_t, weather__0__temperature=q("30 °F"))
    assert lacking.why == "Delta T at 09:00 is not defined at 30 °F, outside 0 to 50 °C"


def test_delta_t_without_readings_needs_the_weather() -> None:
    assert lack(weather.delta_t, weather=()).needs == {"weather": "weather readings"}
    assert clean().weather
