"""Words of `calc`, which knows no languages: what they are is marked here, and found again here."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from calc.errors import OutOfRange
from logbook.facts.messages import Figure, Said, marked, say

WORDS = (
    # calc.droplets: the classes of ASABE S572
    marked("Extremely Fine"),
    marked("Very Fine"),
    marked("Fine"),
    marked("Medium"),
    marked("Coarse"),
    marked("Very Coarse"),
    marked("Extremely Coarse"),
    marked("Ultra Coarse"),
    # calc.air: the signs of an inversion and what they come to; Delta T
    marked("likely"),
    marked("possible"),
    marked("the air is warmer above than below"),
    marked("mist"),
    marked("smoke hangs or moves as a sheet"),
    marked("the hours from two hours before sunset to one hour after sunrise"),
    marked("wind below 3 km/h"),
    marked("clear sky at night"),
    marked("dew or frost"),
    marked("drops hardly dry and stay afloat; look for an inversion"),
    marked("drying is neither too slow nor too fast"),
    marked("drops dry fast; small ones are lost"),
    marked("drops dry too fast to reach the target"),
    # calc.nozzle: the colours of ISO 10625
    marked("pink"),
    marked("orange"),
    marked("green"),
    marked("yellow"),
    marked("lilac"),
    marked("blue"),
    marked("brown-red"),
    marked("red"),
    marked("brown"),
    marked("grey"),
    marked("white"),
    marked("light blue"),
    marked("light green"),
    marked("black"),
    # calc.verdict
    marked("agrees"),
    marked("does not agree"),
    marked("cannot be decided at this accuracy"),
    # calc.coverage
    marked("treated area"),
    marked("field area"),
)
"""Fixed words of `calc` that reach people; `said.told` makes one translatable."""

CHOICE = (
    # calc.chooser and calc.droplets: kinds of nozzle, purposes, what is usual, which way drops go
    marked("flat fan"),
    marked("pre-orifice flat fan"),
    marked("air-induction flat fan"),
    marked("twin flat fan"),
    marked("air-induction twin flat fan"),
    marked("flooding fan"),
    marked("hollow cone"),
    marked("full cone"),
    marked("streamer"),
    marked("soil-applied herbicide"),
    marked("contact herbicide"),
    marked("systemic herbicide"),
    marked("fungicide into the canopy"),
    marked("insecticide"),
    marked("liquid fertilizer"),
    marked("Bare soil takes large drops; small ones only drift."),
    marked("It works where it lands, so it needs cover: more drops, more carrier."),
    marked("The plant moves it, so coarser drops do; some labels allow nothing finer."),
    marked("Two fans, one forward and one back, reach both sides of ears and stems."),
    marked("Finer only where the label asks for it and nobody is downwind."),
    marked("Streams run off the leaf instead of scorching it; a stream has no droplet class."),
    marked("common practice, no source"),
    marked("Wants its own, higher pressure, and no drift-retardant adjuvant, which stops the air."),
    marked("Its two fans are each half the size, and finer for it."),
    marked("For liquid fertilizer; it covers nothing else."),
    marked("A wider angle allows a lower boom, and a lower boom drifts less."),
    marked("higher pressure"),
    marked("larger orifice"),
    marked("wider fan angle"),
    marked("air induction"),
    marked("pre-orifice"),
    marked("oil adjuvant"),
    marked("surfactant, most of them"),
    marked("drift retardant, some of them"),
    marked("finer droplets, more drift"),
    marked("coarser droplets, less drift"),
)
"""Words of the nozzle choice."""

TEMPLATES = (
    # calc.droplets, why a class is not one
    marked("between the listed {low} and {high} kPa"),
    marked("outside the table, which runs from {low} to {high} kPa"),
    # calc.errors, what is allowed
    marked("finite"),
    marked("positive and finite"),
    marked("zero or more, and finite"),
    marked("a whole number, {least} or more"),
    marked("between {low} and {high} {unit}"),
    marked("between {low} and {high}"),
    marked("a number"),
    marked("at most {most} m"),
    marked("one of the units {units}"),
    marked("one of {list}"),
    marked("one of the sizes {list}"),
    marked("aware of its time zone"),
    marked("a time with its time zone"),
    marked("the catches of two nozzles or more"),
    marked("finite and above {floor} m in this canopy"),
    marked("one class or more"),
    marked("one row of pressure and class or more"),
    marked("a table that lists each pressure once"),
    marked("where the sun rises and sets on {day}; here it stays above the horizon"),
    marked("where the sun rises and sets on {day}; here it stays below the horizon"),
    # calc.geometry
    marked("Polygon or MultiPolygon"),
    marked("a list with one polygon or more"),
    marked("a list with one ring or more"),
    marked("a hole inside ring 1"),
    marked("a list of 4 positions or more"),
    marked("a ring that does not go round a pole"),
    marked("a ring that does not cross or retrace itself"),
    marked("a longitude and a latitude"),
    marked("a list that is not empty"),
    marked("one pass or more"),
    marked("two or more positions with a length"),
)
"""Bounds and reasons of `calc`, with places for what is written into them."""


def of_calc(template: str, values: Mapping[str, Any]) -> Said:
    """Return a bound or reason of `calc` as a message; numbers in it are told as a locale does."""
    return Said(template, {name: _figure(value) for name, value in values.items()})


def _figure(value: Any) -> Any:
    return Figure(value) if isinstance(value, str) and _NUMBER.fullmatch(value) else value


_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")


def out_of_range(refusal: OutOfRange) -> Said:
    """Return a refusal of `calc` as a message; its English is the refusal's own text."""
    return say(
        "{argument} is {value}; it must be {bound}.",
        argument=refusal.argument,
        value=repr(refusal.value),
        bound=of_calc(refusal.template, refusal.values),
    )
