"""Sunrise and sunset at the field: by its outline, or else anywhere in its state or province."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from calc.errors import OutOfRange
from calc.sun import sun_times, sun_times_over
from logbook.checks.requirements import Requirements
from logbook.facts.messages import Figure, msg
from logbook.facts.record import FieldFacts, Snapshot
from logbook.facts.terms import out_of_range

ACCURACY_MIN = 1.0
"""Half-width of computed sunrise and sunset, [NOAA-SOLAR]."""


@dataclass(frozen=True)
class Daylight:
    """Sunrise and sunset of one local day, and how well they are known.

    Attributes: within_min, half-width of either [min]; over, the state or province by whose sun
    they are told, "" where the place of the field is known.
    """

    sunrise: datetime
    sunset: datetime
    within_min: float = ACCURACY_MIN
    over: str = ""

    @property
    def known(self) -> str:
        """How well they are known, to end a sentence with."""
        if not self.over:
            return msg("; sunrise and sunset are known to 1 min.")
        return msg(
            "; by the sun over {place}, for the field has no outline: known to {minutes} min.",
            place=self.over,
            minutes=Figure(f"{self.within_min:.0f}"),
        )


def daylight(s: Snapshot, ask: Requirements, instant: datetime | None) -> Daylight | None:
    """Return sunrise and sunset at the field on the local day of `instant`; remember what lacks."""
    field = ask.fact(s.field, "field")
    if field is None or instant is None:
        return None
    day = instant.astimezone(s.zone).date()
    if field.latitude is None or field.longitude is None:
        return _over(s, field, ask, instant)
    try:
        there = sun_times(
            latitude_deg=field.latitude, longitude_deg=field.longitude, day=day, zone=s.zone
        )
    except OutOfRange as refusal:
        ask.refuse(
            msg("no sunrise or sunset at the field: {refusal}", refusal=out_of_range(refusal))
        )
        return None
    return Daylight(there.sunrise, there.sunset)


def _over(s: Snapshot, field: FieldFacts, ask: Requirements, instant: datetime) -> Daylight | None:
    """Return the daylight anywhere in the state or province; the outline is asked for without."""
    if extent := EXTENTS.get(field.place):
        west, south, east, north = extent
        try:
            over = sun_times_over(
                west_deg=west,
                south_deg=south,
                east_deg=east,
                north_deg=north,
                day=instant.astimezone(s.zone).date(),
                zone=s.zone,
            )
        except OutOfRange:
            pass  # so far north that in some corner the sun does not rise or set that day
        else:
            within = over.half_range_min + ACCURACY_MIN
            return Daylight(over.times.sunrise, over.times.sunset, within, field.place)
    ask.fact(
        None,
        "field.boundary",
        msg("the outline of the field, by which its sunrise and sunset are known"),
    )
    return None


EXTENTS = {
    "US-AL": (-88.5, 30.1, -84.8, 35.1),
    "US-AK": (-168.3, 54.3, -129.9, 71.4),
    "US-AZ": (-114.9, 31.3, -109.0, 37.1),
    "US-AR": (-94.7, 33.0, -89.6, 36.5),
    "US-CA": (-124.5, 32.5, -114.1, 42.1),
    "US-CO": (-109.1, 36.9, -102.0, 41.1),
    "US-CT": (-73.8, 40.9, -71.7, 42.1),
    "US-DE": (-75.8, 38.4, -74.9, 39.9),
    "US-DC": (-77.2, 38.7, -76.9, 39.0),
    "US-FL": (-87.7, 24.4, -79.9, 31.1),
    "US-GA": (-85.7, 30.3, -80.7, 35.1),
    "US-HI": (-160.3, 18.8, -154.7, 22.3),
    "US-ID": (-117.3, 41.9, -111.0, 49.1),
    "US-IL": (-91.6, 36.9, -87.0, 42.6),
    "US-IN": (-88.1, 37.7, -84.7, 41.8),
    "US-IA": (-96.7, 40.3, -90.1, 43.6),
    "US-KS": (-102.1, 36.9, -94.5, 40.1),
    "US-KY": (-89.6, 36.4, -81.9, 39.2),
    "US-LA": (-94.1, 28.8, -88.7, 33.1),
    "US-ME": (-71.1, 43.0, -66.9, 47.5),
    "US-MD": (-79.5, 37.9, -74.9, 39.8),
    "US-MA": (-73.5, 41.1, -69.8, 42.9),
    "US-MI": (-90.5, 41.6, -82.1, 48.4),
    "US-MN": (-97.3, 43.4, -89.4, 49.4),
    "US-MS": (-91.7, 30.0, -88.0, 35.1),
    "US-MO": (-95.8, 35.9, -89.1, 40.7),
    "US-MT": (-116.1, 44.3, -104.0, 49.1),
    "US-NE": (-104.1, 39.9, -95.3, 43.1),
    "US-NV": (-120.0, 34.9, -114.0, 42.0),
    "US-NH": (-72.6, 42.6, -70.6, 45.4),
    "US-NJ": (-75.6, 38.8, -73.8, 41.4),
    "US-NM": (-109.1, 31.3, -102.9, 37.0),
    "US-NY": (-79.8, 40.4, -71.8, 45.1),
    "US-NC": (-84.4, 33.8, -75.3, 36.6),
    "US-ND": (-104.1, 45.9, -96.5, 49.1),
    "US-OH": (-84.9, 38.4, -80.5, 42.4),
    "US-OK": (-103.0, 33.6, -94.4, 37.1),
    "US-OR": (-124.6, 41.9, -116.4, 46.3),
    "US-PA": (-80.6, 39.7, -74.7, 42.6),
    "US-RI": (-71.9, 41.1, -71.0, 42.1),
    "US-SC": (-83.4, 32.0, -78.5, 35.3),
    "US-SD": (-104.1, 42.4, -96.4, 46.0),
    "US-TN": (-90.4, 34.9, -81.6, 36.7),
    "US-TX": (-106.7, 25.8, -93.5, 36.5),
    "US-UT": (-114.1, 36.9, -109.0, 42.1),
    "US-VT": (-73.5, 42.7, -71.5, 45.1),
    "US-VA": (-83.7, 36.5, -75.3, 39.5),
    "US-WA": (-124.8, 45.5, -116.9, 49.1),
    "US-WV": (-82.7, 37.2, -77.7, 40.7),
    "US-WI": (-92.9, 42.4, -86.2, 47.4),
    "US-WY": (-111.1, 40.9, -104.0, 45.1),
    "CA-AB": (-120.0, 48.9, -109.9, 60.0),
    "CA-BC": (-139.1, 48.2, -114.0, 60.1),
    "CA-MB": (-102.0, 48.9, -88.9, 60.1),
    "CA-NB": (-69.1, 44.5, -63.7, 48.1),
    "CA-NL": (-67.9, 46.5, -52.5, 60.6),
    "CA-NS": (-66.3, 43.4, -59.7, 47.1),
    "CA-NT": (-136.5, 59.9, -102.0, 78.9),
    "CA-ON": (-95.2, 41.6, -74.3, 56.9),
    "CA-PE": (-64.5, 45.9, -61.9, 47.1),
    "CA-QC": (-79.9, 44.9, -57.1, 62.7),
    "CA-SK": (-110.0, 49.0, -101.3, 60.1),
    "CA-YT": (-141.1, 59.9, -123.9, 69.7),
}
"""How far each state and province reaches: west, south, east, north. [°, WGS 84]

By its ISO 3166-2 code. Areas of use of the EPSG Geodetic Parameter Dataset, rounded outward to
0.1°, Alaska without its islands; the east of Manitoba and the District of Columbia are from memory.
Nunavut, where no ground rig works, is left out.
"""
