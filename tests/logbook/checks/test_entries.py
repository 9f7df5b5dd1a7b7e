"""Entries outside their usual range are asked about on their own line, and the likely slip named.

The slips are those of the trade (a gauge in bar read as psi, a share written as 0.6), from memory.
"""

from __future__ import annotations

from dataclasses import is_dataclass
from typing import Any

import pytest

from calc.units import UNITS, dimension_of
from logbook.checks import entries
from logbook.checks.core import Severity
from logbook.facts import record
from logbook.facts.spec import Amount, declared
from tests.logbook.checks.build import given, look, q, the

BAND: dict[str, Any] = {"record__pattern": "banded", "record__row_spacing": q("30 in")}


def test_ordinary_numbers_are_not_asked_about() -> None:
    assert look(entries.usual_range) == []
    assert look(entries.usual_range, **BAND, record__band_width=q("30 in")) == []
    words = {"record__duty": q("not applicable"), "record__mix_used": q("not measured: no meter")}
    assert look(entries.usual_range, **words) == []


@pytest.mark.parametrize(
    ("path", "entered", "about", "asked"),
    [
        ("record__duty", "0.6 %", "duty", "0.6 % is outside what is usual, 10 to 100 %. Was 60 %"),
        ("record__pressure", "3 psi", "pressure", "10.2 to 218 psi. Was 3 bar meant?"),
        ("record__pressure", "40 bar", "pressure", "Was 40 psi meant?"),
        ("record__speed", "25 mph", "speed", "Was 25 km/h meant?"),
        ("record__boom_height", "20 ft", "boom_height", "Was 20 in meant?"),
        ("record__planned_carrier", "15 L/ha", "planned_carrier", "Was 15 gal/ac meant?"),
        ("record__distance", "17 ft", "distance", "Was 17 mi meant?"),
        ("record__mix_used", "0 gal", "mix_used", "Spray mix used on this field: 0 gal is outside"),
        ("products__0__total_used", "0 fl oz", "products.0.total_used", "Total used, undiluted: 0"),
        ("loads__1__used_here", "0 gal", "loads.1.used_here", "Volume used here: 0 gal"),
        ("weather__0__humidity", "0 %", "weather.0.humidity", "0 % is outside what is usual, 5 to"),
        ("weather__0__humidity", "0.55 %", "weather.0.humidity", "Was 55 % meant?"),
        ("weather__0__temperature", "20 °F", "weather.0.temperature", "Was 20 °C meant?"),
    ],
)
def test_an_unusual_number_is_asked_about_on_its_own_line(
    path: str, entered: str, about: str, asked: str
) -> None:
    finding = the(entries.usual_range, **{path: q(entered)})
    assert (finding.about, finding.severity) == (about, Severity.CAUTION)
    assert asked in finding.sentence


def test_what_no_slip_of_the_unit_explains_is_asked_about_without_a_guess() -> None:
    assert "meant" not in the(entries.usual_range, record__mix_used=q("0 L")).sentence


def test_a_band_wider_than_its_row_is_asked_about() -> None:
    finding = the(entries.usual_range, **BAND, record__band_width=q("40 in"))
    assert finding.about == "band_width"
    assert finding.sentence == "Band width: 40 in is wider than the row spacing, 30 in."


def test_every_usual_range_lies_within_the_hard_bounds_of_its_fact() -> None:
    holders = [one for one in vars(record).values() if isinstance(one, type) and is_dataclass(one)]
    ranges = [
        (f"{holder.__name__}.{name}", fact.kind, usual)
        for holder in holders
        for name, fact in declared(holder).items()
        if isinstance(fact.kind, Amount)
        for usual in fact.kind.usual
    ]
    assert len(ranges) > 40
    wrong = []
    for name, kind, usual in ranges:
        low, high = (
            float(UNITS[usual.unit].factor) * (end + float(UNITS[usual.unit].offset))
            for end in (usual.low, usual.high)
        )
        floor = kind.at_least if kind.above is None else kind.above
        if dimension_of(usual.unit) not in kind.dimensions or not low < high:
            wrong.append(name)
        if (floor is not None and low < floor) or (
            kind.at_most is not None and high > kind.at_most
        ):
            wrong.append(name)
        # An entry at or below 0 that is possible at all is asked about, but for what may be none.
        if kind.above is not None and usual.low <= 0:
            wrong.append(name)
    assert wrong == []


def test_the_check_walks_every_amount_that_is_entered_in_a_record() -> None:
    walked = {path for path, fact, _ in entries.entries(given()) if isinstance(fact.kind, Amount)}
    assert {
        "duty",
        "speed",
        "products.1.total_used",
        "loads.0.used_here",
        "weather.0.gust",
    } <= walked
