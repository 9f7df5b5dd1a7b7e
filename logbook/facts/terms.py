"""Words of `calc`, which knows no languages: what they are is marked here, and found again here."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from calc.errors import OutOfRange
from logbook.facts.messages import Figure, Message, gettext_noop, msg, term, with_unit

WORDS = (
    # calc.droplets: the classes of ASABE S572
    gettext_noop("Extremely Fine"),
    gettext_noop("Very Fine"),
    gettext_noop("Fine"),
    gettext_noop("Medium"),
    gettext_noop("Coarse"),
    gettext_noop("Very Coarse"),
    gettext_noop("Extremely Coarse"),
    gettext_noop("Ultra Coarse"),
    # calc.air: the signs of an inversion and what they come to; Delta T
    gettext_noop("likely"),
    gettext_noop("possible"),
    gettext_noop("the air is warmer above than below"),
    gettext_noop("mist"),
    gettext_noop("smoke hangs or moves as a sheet"),
    gettext_noop("the hours from two hours before sunset to one hour after sunrise"),
    gettext_noop("wind below 3 km/h"),
    gettext_noop("clear sky at night"),
    gettext_noop("dew or frost"),
    gettext_noop("drops hardly dry and stay afloat; look for an inversion"),
    gettext_noop("drying is neither too slow nor too fast"),
    gettext_noop("drops dry fast; small ones are lost"),
    gettext_noop("drops dry too fast to reach the target"),
    # calc.nozzle: the colours of ISO 10625
    gettext_noop("pink"),
    gettext_noop("orange"),
    gettext_noop("green"),
    gettext_noop("yellow"),
    gettext_noop("lilac"),
    gettext_noop("blue"),
    gettext_noop("brown-red"),
    gettext_noop("red"),
    gettext_noop("brown"),
    gettext_noop("grey"),
    gettext_noop("white"),
    gettext_noop("light blue"),
    gettext_noop("light green"),
    gettext_noop("black"),
    # calc.limits and calc.verdict
    gettext_noop("agrees"),
    gettext_noop("does not agree"),
    gettext_noop("cannot be decided at this accuracy"),
    gettext_noop("look again"),
    gettext_noop("outside the label"),
    # calc.coverage
    gettext_noop("treated area"),
    gettext_noop("field area"),
)
"""Fixed words of `calc` that reach people; `said.told` makes one translatable."""

CHOICE = (
    # calc.chooser and calc.droplets: kinds of nozzle, purposes, what is usual, which way drops go
    gettext_noop("flat fan"),
    gettext_noop("pre-orifice flat fan"),
    gettext_noop("air-induction flat fan"),
    gettext_noop("twin flat fan"),
    gettext_noop("air-induction twin flat fan"),
    gettext_noop("flooding fan"),
    gettext_noop("hollow cone"),
    gettext_noop("full cone"),
    gettext_noop("streamer"),
    gettext_noop("soil-applied herbicide"),
    gettext_noop("contact herbicide"),
    gettext_noop("systemic herbicide"),
    gettext_noop("fungicide into the canopy"),
    gettext_noop("insecticide"),
    gettext_noop("liquid fertilizer"),
    gettext_noop("Bare soil takes large drops; small ones only drift."),
    gettext_noop("It works where it lands, so it needs cover: more drops, more carrier."),
    gettext_noop("The plant moves it, so coarser drops do; some labels allow nothing finer."),
    gettext_noop("Two fans, one forward and one back, reach both sides of ears and stems."),
    gettext_noop("Finer only where the label asks for it and nobody is downwind."),
    gettext_noop(
        "Streams run off the leaf instead of scorching it; a stream has no droplet class."
    ),
    gettext_noop("common practice, no source"),
    gettext_noop(
        "Wants its own, higher pressure, and no drift-retardant adjuvant, which stops the air."
    ),
    gettext_noop("Its two fans are each half the size, and finer for it."),
    gettext_noop("For liquid fertilizer; it covers nothing else."),
    gettext_noop("A wider angle allows a lower boom, and a lower boom drifts less."),
    gettext_noop("higher pressure"),
    gettext_noop("larger orifice"),
    gettext_noop("wider fan angle"),
    gettext_noop("air induction"),
    gettext_noop("pre-orifice"),
    gettext_noop("oil adjuvant"),
    gettext_noop("surfactant, most of them"),
    gettext_noop("drift retardant, some of them"),
    gettext_noop("finer droplets, more drift"),
    gettext_noop("coarser droplets, less drift"),
)
"""Words of the nozzle choice."""

TEMPLATES = (
    # calc.droplets, why a class is not one
    gettext_noop("between the listed {low} and {high} kPa"),
    gettext_noop("outside the table, which runs from {low} to {high} kPa"),
    # calc.errors, what is allowed
    gettext_noop("finite"),
    gettext_noop("positive and finite"),
    gettext_noop("zero or more, and finite"),
    gettext_noop("a whole number, {least} or more"),
    gettext_noop("between {low} and {high} {unit}"),
    gettext_noop("between {low} and {high}"),
    gettext_noop("a number"),
    gettext_noop("at most {most} m"),
    gettext_noop("one of the units {units}"),
    gettext_noop("one of {list}"),
    gettext_noop("one of the sizes {list}"),
    gettext_noop("aware of its time zone"),
    gettext_noop("a time with its time zone"),
    gettext_noop("the catches of two nozzles or more"),
    gettext_noop("finite and above {floor} m in this canopy"),
    gettext_noop("one class or more"),
    gettext_noop("one row of pressure and class or more"),
    gettext_noop("a table that lists each pressure once"),
    gettext_noop("where the sun rises and sets on {day}; here it stays above the horizon"),
    gettext_noop("where the sun rises and sets on {day}; here it stays below the horizon"),
    # calc.geometry
    gettext_noop("Polygon or MultiPolygon"),
    gettext_noop("a list with one polygon or more"),
    gettext_noop("a list with one ring or more"),
    gettext_noop("a hole inside ring 1"),
    gettext_noop("a list of 4 positions or more"),
    gettext_noop("a ring that does not go round a pole"),
    gettext_noop("a ring that does not cross or retrace itself"),
    gettext_noop("a longitude and a latitude"),
    gettext_noop("a list that is not empty"),
    gettext_noop("one pass or more"),
    gettext_noop("two or more positions with a length"),
)
"""Bounds and reasons of `calc`, with places for what is written into them."""


def of_calc(template: str, values: Mapping[str, Any]) -> Message:
    """Return a bound or reason of `calc` as a message; numbers in it are told as a locale does."""
    return Message(template, {name: _figure(value) for name, value in values.items()})


def _figure(value: Any) -> Any:
    return Figure(value) if isinstance(value, str) and _NUMBER.fullmatch(value) else value


_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")


_UNITS = {
    "_km_h": "km/h",
    "_l_min": "L/min",
    "_gal_min": "gal/min",
    "_l_ha": "L/ha",
    "_kg_ha": "kg/ha",
    "_g_ha": "g/ha",
    "_gal_ac": "gal/ac",
    "_g_l": "g/L",
    "_lb_gal": "lb/gal",
    "_per_l": "per L",
    "_per_ha": "per ha",
    "_percent": "%",
    "_mph": "mph",
    "_kpa": "kPa",
    "_deg": "°",
    "_ppm": "ppm",
    "_um": "µm",
    "_cm": "cm",
    "_ft": "ft",
    "_in": "in",
    "_ml": "mL",
    "_ha": "ha",
    "_m": "m",
    "_l": "L",
    "_h": "h",
    "_g": "g",
    "_c": "°C",
    "_k": "K",
}
"""How the names of `calc` end for each unit."""

_NAMED = {
    "area": gettext_noop("treated area"),
    "band_width": gettext_noop("band width"),
    "boom_flow": gettext_noop("boom flow"),
    "delivered_rate": gettext_noop("delivered rate"),
    "distance": gettext_noop("distance"),
    "dry_bulb": gettext_noop("air temperature"),
    "duty": gettext_noop("pulse-width duty, as a share,"),
    "exponent": gettext_noop("pressure exponent"),
    "flow": gettext_noop("nozzle flow"),
    "gauge": gettext_noop("pressure at the gauge"),
    "height": gettext_noop("height"),
    "known_at": gettext_noop("pressure at which the flow is known"),
    "known_flow": gettext_noop("known flow"),
    "latitude": gettext_noop("latitude"),
    "line_loss": gettext_noop("pressure lost between gauge and nozzle"),
    "longitude": gettext_noop("longitude"),
    "nozzle": gettext_noop("pressure at the nozzle"),
    "pressure": gettext_noop("pressure"),
    "rate": gettext_noop("rate"),
    "rated_flow": gettext_noop("rated flow"),
    "rated_pressure": gettext_noop("rated pressure"),
    "relative_humidity": gettext_noop("relative humidity"),
    "row_spacing": gettext_noop("row spacing"),
    "spacing": gettext_noop("nozzle spacing"),
    "specific_gravity": gettext_noop("density relative to water"),
    "speed": gettext_noop("ground speed"),
    "swath": gettext_noop("swath"),
    "temperature": gettext_noop("temperature"),
    "volumes": gettext_noop("volumes caught"),
    "wet_bulb": gettext_noop("wet-bulb temperature"),
    "wind_from": gettext_noop("wind direction"),
    "wind_speed": gettext_noop("wind speed"),
}
"""What people call the quantities of `calc`; one that no person enters keeps its own words."""

_LESS = re.compile(r" [-−] ")
_FIGURES = 6


def named(argument: str) -> tuple[Message, str]:
    """Return what people call an argument of `calc`, and the unit that its name ends with."""
    # Of a list the place follows: "volumes_ml, nozzle 3,".
    first, comma, place = argument.partition(",")
    ending = next((end for end in _UNITS if first.endswith(end)), "")
    name = first.removesuffix(ending)
    said = term(_NAMED.get(name, name.replace("_", " ")))
    return said + f"{comma}{place}" if comma else said, _UNITS.get(ending, "")


def out_of_range(refusal: OutOfRange) -> Message:
    """Return a refusal of `calc` as a message: in the names that people use, six figures at most.

    A difference that may not be negative is told as what is more than what.
    """
    parts = _LESS.split(refusal.argument)
    if len(parts) == 2:
        (whole, _unit), (taken, _same) = map(named, parts)
        return msg("{taken} cannot be more than {whole}.", taken=taken, whole=whole)
    argument, unit = named(refusal.argument)
    bound = of_calc(refusal.template, refusal.values)
    value = refusal.value
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        return msg("{argument} must be {bound}.", argument=argument, bound=bound)
    if not isinstance(value, str):
        value = Figure(f"{value:.{_FIGURES}g}")
        value = with_unit(value, unit) if unit else value
    return msg(
        "{argument} is {value}; it must be {bound}.", argument=argument, value=value, bound=bound
    )
