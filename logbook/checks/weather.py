"""Checks of the weather readings: wind, temperature, time of day, inversion, drying."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import pairwise

import numpy as np

from calc.air import (
    DELTA_T_BANDS,
    DRY_BULB_RANGE_C,
    Likelihood,
    delta_t_band,
    delta_t_k,
    inversion_signs,
    pressure_from_elevation_kpa,
)
from calc.limits import Outcome, judge_within
from logbook.checks.core import Check, Finding, Severity, check
from logbook.checks.daylight import Daylight, daylight
from logbook.checks.label import SILENT, Labelled, Window, labels, window
from logbook.checks.requirements import Requirements
from logbook.facts.messages import gettext_noop, msg, term
from logbook.facts.quantity import Absence, Answer, Nothing, Quantity
from logbook.facts.record import LabelFacts, Snapshot, WeatherFacts
from logbook.facts.wording import clock_at, edition, listed, settled, three

SIGNS = {
    "smoke layer": "smoke_hangs",
    "mist": "mist",
    "dew": "dew_or_frost",
    "frost": "dew_or_frost",
    "rain": "steady_rain",
}
"""The signs of a reading that speak for or against an inversion, and what `calc.air` calls them."""

READING_MARGIN = timedelta(minutes=15)
"""How far outside the spraying a reading still speaks for it; common practice, no source."""

JUDGED_BEFORE, JUDGED_AFTER = timedelta(minutes=60), timedelta(minutes=30)
"""How far before the start and after the end a reading is still held to the label's limits.

Common practice, no source. What is read farther off is named, and judged by nobody.
"""

READING_GAP = timedelta(minutes=60)
"""Readings at the start, at the end and every hour between; Florida F.A.C. 5E-2.033 asks hourly."""

HIGH_READING_M = 3.0
"""Above this, a wind reading is not one at boom height; common practice, no source."""

CALM = Quantity(Decimal(0), "km/h")
"""The wind of a reading whose wind is answered "none"."""

_INVERSION_BASIS = msg("GRDC Spray Application Manual, module 10; NDSU AE1705")


@check(
    "weather-times",
    title=msg("weather readings while the spraying went on"),
    about=("weather", "started_at", "finished_at"),
)
def weather_times(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    start = ask.fact(s.record.started_at, "started_at")
    finish = ask.fact(s.record.finished_at, "finished_at")
    ask.fact(s.weather or None, "weather")
    if start is None or finish is None or not s.weather:
        raise ask.lack()
    read = sorted(
        one.read_at
        for one in s.weather
        if start - READING_MARGIN <= one.read_at <= finish + READING_MARGIN
    )
    spraying = msg("{start} to {end}", start=clock_at(start, s.zone), end=clock_at(finish, s.zone))
    far = [one.read_at for one in s.weather if not _near(s, one.read_at)]
    if read and far:
        yield weather_times.finding(
            Severity.CAUTION,
            about="weather",
            sentence=msg(
                "Weather read at {times} is too far from the spraying, {spraying}, to speak "
                "for it; no limit was held against it.",
                times=listed(_when(s, one) for one in far),
                spraying=spraying,
            ),
            basis=msg("Good practice: a reading at the start, at the end and every hour between"),
            settle=msg("Correct the time of the reading if it is mistyped."),
        )
    if not read:
        yield weather_times.finding(
            Severity.MISSING,
            about="weather",
            sentence=msg(
                "No weather was read during the spraying, {spraying}; the readings are of {times}.",
                spraying=spraying,
                times=listed(_when(s, one.read_at) for one in s.weather),
            ),
            basis=msg("Good practice: a reading at the start, at the end and every hour between"),
            settle=msg("Enter a reading taken during the spraying, or correct the times."),
        )
        return
    for before, after in pairwise((start, *read, finish)):
        if after - before > READING_GAP:
            yield weather_times.finding(
                Severity.CAUTION,
                about="weather",
                sentence=msg(
                    "No weather was read between {before} and {after}; to judge the drift "
                    "of a spraying there should be a reading at least every hour.",
                    before=clock_at(before, s.zone),
                    after=clock_at(after, s.zone),
                ),
                basis=msg(
                    "Good practice: a reading at the start, at the end and every hour between"
                ),
                settle=msg("Enter the readings taken in that time."),
            )
            return


@check(
    "wind-window",
    title=msg("wind and gusts against the label, at every reading"),
    about=("weather.*.wind_speed", "weather.*.gust", "products.*.label"),
)
def wind_window(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    asked = labels(s, ask)
    for_wind = window(asked, low=lambda label: label.wind_min, high=lambda label: label.wind_max)
    for_gusts = window(asked, high=lambda label: label.wind_max)
    if for_wind is None:
        ask.nothing(SILENT)
    if for_wind:
        for path, at, reading in _readings(s, ask):
            speed, gust = _wind(reading), reading.gust
            yield from _against(
                s,
                wind_window,
                ask,
                speed,
                f"{path}.wind_speed",
                msg("Wind"),
                msg("the wind {at}", at=at),
                at,
                for_wind,
            )
            # "none" is an answer here: there were no gusts.
            gusts = not (isinstance(gust, Nothing) and gust.kind is Absence.NONE)
            if for_gusts and gusts:
                yield from _against(
                    s,
                    wind_window,
                    ask,
                    gust,
                    f"{path}.gust",
                    msg("Gust"),
                    msg("the gust {at}", at=at),
                    at,
                    for_gusts,
                )
    ask.done()


@check(
    "wind-height",
    title=msg("the height at which the wind was read"),
    about=("weather.*.height", "products.*.label"),
)
def wind_height(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    asked = [(p, label) for _, p, label in labels(s, ask) if label.wind_min or label.wind_max]
    if asked:
        for path, at, reading in _readings(s, ask):
            height = ask.number(
                reading.height, f"{path}.height", msg("the wind height {at}", at=at)
            )
            if height is not None and height.to("m") > HIGH_READING_M:
                yield wind_height.finding(
                    Severity.CAUTION,
                    about=f"{path}.height",
                    sentence=msg(
                        "The wind {at} was read at {height}; a label's wind window is "
                        "meant near the boom, where the wind is lighter, and is not "
                        "converted here.",
                        at=at,
                        height=height,
                    ),
                    basis=msg(
                        "{labels}; good practice", labels=listed(edition(*one) for one in asked)
                    ),
                    settle=msg("Read the wind at boom height, beside the field."),
                )
    else:
        ask.nothing(SILENT)
    ask.done()


@check(
    "temperature-limits",
    title=msg("air temperature against the label, at every reading"),
    about=("weather.*.temperature", "products.*.label"),
)
def temperature_limits(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    asked = window(
        labels(s, ask),
        low=lambda label: label.temperature_min,
        high=lambda label: label.temperature_max,
    )
    if asked:
        for path, at, reading in _readings(s, ask):
            path += ".temperature"
            yield from _against(
                s,
                temperature_limits,
                ask,
                reading.temperature,
                path,
                msg("Temperature"),
                msg("the temperature {at}", at=at),
                at,
                asked,
            )
    else:
        ask.nothing(SILENT)
    ask.done()


@check(
    "time-of-day",
    title=msg("start and end of the spraying against sunrise and sunset at the field"),
    about=("started_at", "finished_at", "products.*.label"),
)
def time_of_day(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    asked = labels(s, ask)
    after = _longest(asked, lambda label: label.minutes_after_sunrise)
    before = _longest(asked, lambda label: label.minutes_before_sunset)
    if after or before:
        start = ask.fact(s.record.started_at, "started_at")
        finish = ask.fact(s.record.finished_at, "finished_at")
        sun = daylight(s, ask, start)
        if sun is None or start is None or finish is None:
            raise ask.lack()
        # Both are measured from the day it started on: an end after midnight is after sunset.
        if after:
            yield from _by_the_sun(s, "started_at", start, sun, *after)
        if before:
            yield from _by_the_sun(s, "finished_at", finish, sun, *before)
    else:
        ask.nothing(SILENT)
    ask.done()


@check(
    "inversion-signs",
    title=msg("signs of a temperature inversion, at every reading"),
    about=("weather.*.signs", "weather.*.cloud", "weather.*.wind_speed", "products.*.label"),
)
def inversion(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    forbidding = [(p, label) for _, p, label in labels(s, ask) if label.inversion_forbidden]
    ask.looked()  # at the signs, whatever a label says of them
    suns: dict[object, Daylight | None] = {}
    for path, at, reading in _readings(s, ask):
        wind = ask.number(_wind(reading), f"{path}.wind_speed", msg("the wind speed {at}", at=at))
        cloud = ask.number(reading.cloud, f"{path}.cloud", msg("the cloud cover {at}", at=at))
        if forbidding:
            ask.fact(
                reading.signs, f"{path}.signs", msg("what was seen of an inversion {at}", at=at)
            )
        day = reading.read_at.astimezone(s.zone).date()
        if day not in suns:
            suns[day] = daylight(s, ask, reading.read_at)
        sun = suns[day]
        # Where the sun is not known to the minute, the night is taken as long as it may be.
        doubt = sun.within_min if sun and sun.over else 0.0
        signs = inversion_signs(
            minutes_to_sunset=_minutes(reading.read_at, sun.sunset) - doubt if sun else None,
            minutes_after_sunrise=_minutes(sun.sunrise, reading.read_at) - doubt if sun else None,
            wind_speed_km_h=wind.si if wind else None,
            cloud_percent=cloud.si if cloud else None,
            **_seen(reading),
        )
        if signs.likelihood in (Likelihood.LIKELY, Likelihood.POSSIBLE):
            breach = bool(forbidding) and signs.likelihood is Likelihood.LIKELY
            seen = listed(_sign(sign, wind) for sign in signs.signs_for)
            labelled = (
                msg("{labels}; ", labels=listed(edition(*one) for one in forbidding))
                if forbidding
                else ""
            )
            yield inversion.finding(
                Severity.BREACH if breach else Severity.CAUTION,
                about=f"{path}.signs",
                sentence=msg(
                    gettext_noop(
                        "A temperature inversion was {likelihood} {at}, by these signs: {signs}."
                    )
                    if len(signs.signs_for) > 1
                    else gettext_noop(
                        "A temperature inversion was {likelihood} {at}, by this sign: {signs}."
                    ),
                    likelihood=term(signs.likelihood.value),
                    at=at,
                    signs=seen,
                )
                + (msg(" The label forbids spraying in one.") if forbidding else ""),
                basis=labelled + _INVERSION_BASIS + _night_by(sun),
                settle=settled(
                    s,
                    ahead=msg(
                        "Wait until the air mixes; enter what is seen of smoke, cloud and wind."
                    ),
                    done=msg(
                        "Enter what was seen of smoke, cloud and wind; correct the reading if it "
                        "was misread."
                    ),
                ),
            )
    ask.done()


@check(
    "delta-t",
    title=msg("Delta T, at every reading"),
    about=("weather.*.temperature", "weather.*.humidity", "field.elevation"),
)
def delta_t(s: Snapshot) -> Iterator[Finding]:
    ask = Requirements()
    at_path: list[tuple[str, str]] = []
    dry: list[float] = []
    humid: list[float] = []
    for path, at, reading in _readings(s, ask):
        t = ask.number(
            reading.temperature, f"{path}.temperature", msg("the temperature {at}", at=at)
        )
        h = ask.number(
            reading.humidity, f"{path}.humidity", msg("the relative humidity {at}", at=at)
        )
        if t is None or h is None:
            continue
        coldest, hottest = DRY_BULB_RANGE_C
        if not coldest <= t.si <= hottest:
            ask.refuse(
                msg(
                    "Delta T {at} is not defined at {temperature}, outside 0 to 50 °C",
                    at=at,
                    temperature=t,
                )
            )
            continue
        at_path.append((path, at))
        dry.append(t.si)
        humid.append(h.si)
    preferred = DELTA_T_BANDS[1]
    elevation = s.field.elevation if s.field else None
    # Nobody said how high the field lies: then it is said beside the number that the sea's air is
    # meant, in which Delta T comes out smaller.
    where = (
        msg("at {elevation} above the sea", elevation=elevation)
        if elevation
        else msg("at sea level, as the elevation of the field is blank")
    )
    metres = elevation.to("m") if elevation else 0.0
    # One call for all readings: the bisection costs as much for one as for many.
    values = delta_t_k(
        dry_bulb_c=np.asarray(dry),
        relative_humidity_percent=np.asarray(humid),
        pressure_kpa=np.full(len(dry), pressure_from_elevation_kpa(elevation_m=metres)),
    )
    for (path, at), value in zip(at_path, values.tolist(), strict=True):
        band = delta_t_band(delta_t_k=value)
        if band != preferred:
            yield delta_t.finding(
                Severity.CAUTION,
                about=f"{path}.humidity",
                sentence=msg(
                    "Delta T {at} was {delta} °C ({where}), outside the preferred 2 to 8 °C: "
                    "{advice}.",
                    at=at,
                    delta=three(value),
                    where=where,
                    advice=term(band.advice),
                ),
                basis=msg("Bureau of Meteorology and GRDC Spray Application Manual, module 10"),
                settle=settled(
                    s,
                    ahead=msg("Wait for better drying, or use coarser drops if the label allows."),
                    done=msg("Correct temperature or humidity if it was misread."),
                ),
            )
    ask.done()


def _readings(s: Snapshot, ask: Requirements) -> Iterator[tuple[str, str, WeatherFacts]]:
    """Yield path, "at 10:05" and each reading near the spraying; remember when there is none."""
    ask.fact(s.weather or None, "weather")
    near = [place for place, reading in enumerate(s.weather) if _near(s, reading.read_at)]
    if s.weather and not near:
        ask.refuse(msg("no weather was read near the time of the spraying"))
    for place in near:
        reading = s.weather[place]
        yield (
            f"weather.{place}",
            msg("at {time}", time=clock_at(reading.read_at, s.zone)),
            reading,
        )


def _near(s: Snapshot, instant: datetime) -> bool:
    """Return whether a reading is near enough to the spraying to be held to a limit."""
    start, finish = s.record.started_at, s.record.finished_at
    after_start = start is None or start - JUDGED_BEFORE <= instant
    return after_start and (finish is None or instant <= finish + JUDGED_AFTER)


def _when(s: Snapshot, instant: datetime) -> str:
    """Return the time of a reading, with its day where that is not the day of the work."""
    local = instant.astimezone(s.zone)
    if local.date() == s.local_day():
        return clock_at(instant, s.zone)
    return msg("{time} on {day}", time=clock_at(instant, s.zone), day=local.date())


def _wind(reading: WeatherFacts) -> Answer:
    """Return the wind of a reading; "none" is a wind of 0, which is below a label's minimum."""
    wind = reading.wind_speed
    if isinstance(wind, Nothing) and wind.kind is Absence.NONE:
        return CALM
    return wind


def _seen(reading: WeatherFacts) -> dict[str, bool]:
    """Return the signs of a reading as `inversion_signs` takes them; nothing of those not said."""
    if reading.signs is None:
        return {}
    if not reading.signs:
        return dict.fromkeys(SIGNS.values(), False)
    return {SIGNS[sign]: True for sign in reading.signs if sign in SIGNS}


def _sign(sign: str, wind: Quantity | None) -> str:
    """Return a sign of an inversion in a list, the wind as it was entered."""
    if sign.startswith("wind below") and wind is not None:
        return msg("no wind") if wind.value == 0 else msg("a light wind of {wind}", wind=wind)
    return term(sign.replace("from two", "the hours from two"))


def _against(
    s: Snapshot,
    one: Check,
    ask: Requirements,
    answer: Answer,
    path: str,
    name: str,
    fact: str,
    at: str,
    asked: Window,
) -> Iterator[Finding]:
    """Yield the breach of a reading outside the labels' limits."""
    value = ask.number(answer, path, fact)
    if value is not None and not asked.holds(value):
        yield one.finding(
            Severity.BREACH,
            about=path,
            sentence=msg(
                "{what} {value} {at}, label asks {limits}.",
                what=name,
                value=msg("none") if value is CALM else value,
                at=at,
                limits=asked.words(None if value is CALM else value),
            ),
            basis=asked.basis,
            settle=settled(
                s,
                ahead=msg(
                    "Stop until the label's limits are met; correct the reading if it was misread."
                ),
                done=msg("Correct the reading if it was misread."),
            ),
        )


def _by_the_sun(
    s: Snapshot,
    path: str,
    instant: datetime,
    sun: Daylight,
    asked: int,
    basis: str,
) -> Iterator[Finding]:
    """Yield the finding of a start or an end too near sunrise or sunset."""
    started = path == "started_at"
    turn = sun.sunrise if started else sun.sunset
    margin = _minutes(turn, instant) if started else _minutes(instant, turn)
    outcome = judge_within(value=margin, expanded=sun.within_min, low=float(asked), high=None)
    if outcome is Outcome.AGREES:
        return
    undecided = outcome is Outcome.UNDECIDED
    yield time_of_day.finding(
        Severity.CAUTION if undecided else Severity.BREACH,
        about=path,
        sentence=msg(
            gettext_noop(
                "Started at {time}, {minutes:.0f} min after sunrise ({sun}); label asks not before "
                "{asked} min after sunrise{end}"
            )
            if started
            else gettext_noop(
                "Ended at {time}, {minutes:.0f} min before sunset ({sun}); label asks not later "
                "than {asked} min before sunset{end}"
            ),
            time=clock_at(instant, s.zone),
            minutes=margin,
            sun=clock_at(turn, s.zone),
            asked=asked,
            end=sun.known if undecided or sun.over else ".",
        ),
        basis=basis,
        settle=settled(
            s,
            ahead=msg("Keep to the label's hours; correct the time if it is mistyped."),
            done=msg("Correct the time if it is mistyped."),
        ),
        undecided=undecided,
    )


def _night_by(sun: Daylight | None) -> str:
    """Return by which sun the night was told, where it is not that of the field itself."""
    if sun is None or not sun.over:
        return ""
    return msg("; night by the sun over {place}, for the field has no outline", place=sun.over)


def _longest(
    asked: list[Labelled], of: Callable[[LabelFacts], int | None]
) -> tuple[int, str] | None:
    """Return the longest time that a label asks for, and that label; None if all are silent."""
    times = [
        (minutes, edition(p, label)) for _, p, label in asked if (minutes := of(label)) is not None
    ]
    return max(times, default=None)


def _minutes(start: datetime, end: datetime) -> float:
    return (end - start) / timedelta(minutes=1)
