"""A record in which every element stands, at any place and day, and the means to take one out.

The scenario is invented. A helper with a training valid on the day sprays two products from a load
that serves other fields too, under a licence holder; the label restricts the product, limits air
and time, and is of every class that a law names. So every condition of a duty set is met.
"""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from logbook.facts.duty import Asked, DutySet, HowRead, LocationFormat, Products
from logbook.facts.record import LocationFacts, Snapshot
from logbook.law.elements import STATED
from logbook.law.reader import duty_sets
from tests.logbook.checks.build import clean, given, licence, person, training

SETS: dict[str, DutySet] = {one.id: one for one in duty_sets()}
_FILE = Path(__file__).parents[3] / "fixtures" / "state_duties.csv"
with _FILE.open(encoding="utf-8", newline="") as _text:
    STATE_TABLE = {row["set"]: row for row in csv.DictReader(_text)}
"""The sets that test_states walks, each with what the published rule asks."""
ZONES = {
    "US-CA": "America/Los_Angeles",
    "US-WA": "America/Los_Angeles",
    "US-OR": "America/Los_Angeles",
    "US-NM": "America/Denver",
    "US-FL": "America/New_York",
    "US-GA": "America/New_York",
    "US-NY": "America/New_York",
    "US-PA": "America/New_York",
    "FR": "Europe/Paris",
    "DE": "Europe/Berlin",
    "GB-ENG": "Europe/London",
    "AU-NSW": "Australia/Sydney",
    "AU-VIC": "Australia/Melbourne",
    "AU-QLD": "Australia/Brisbane",
    "CA-BC": "America/Vancouver",
}
IN_STATES_WITHOUT_A_SET = {"US": "US-UT", "EU": "FR", "GB": "GB-ENG"}


def place_for(one: DutySet) -> str:
    """Return a place in which the set holds; of a federal set one without a set of its own."""
    return IN_STATES_WITHOUT_A_SET.get(one.place, one.place)


def day_for(one: DutySet) -> date:
    """Return a day on which the set held."""
    return one.in_force_to or date(2026, 6, 10)


def complete(place: str, day: date = date(2026, 6, 10), **changes: Any) -> Snapshot:
    """Return the record in which every element stands, sprayed on the day at the place."""
    s = clean()
    here = licence(place=place, valid_from=date(2020, 1, 1), expires_on=date(2030, 1, 1))
    label = s.products[0].label
    assert label is not None
    full = given(
        s,
        field__place=place,
        field__time_zone=ZONES.get(place, "America/Chicago"),
        field__locations=tuple(
            LocationFacts(kind=kind.value, text=f"by {kind.value}")
            for kind in LocationFormat
            if kind not in (LocationFormat.OUTLINE, LocationFormat.MAP)
        ),
        record__started_at=datetime(day.year, day.month, day.day, 16, tzinfo=UTC),
        record__finished_at=datetime(day.year, day.month, day.day, 19, tzinfo=UTC),
        record__statements=dict.fromkeys(STATED, "as noted"),
        applicator=person(
            "P. Vik",
            licences=(),
            trainings=(training(trained_on=date(2025, 1, 1), expires_on=date(2027, 1, 1)),),
        ),
        supervisor=person("A. Lund", licences=(here,)),
        products__0__label=replace(
            label,
            classes=tuple(
                kind.value
                for kind in (
                    Products.STATE_RESTRICTED,
                    Products.AUXIN,
                    Products.DICAMBA_OVER_THE_TOP,
                    Products.ATRAZINE,
                )
            ),
            asks=(Asked(name="growth-stage", how_read=HowRead.LEGAL_TEXT),),
            worker_warning="both",
        ),
        loads__0__shared=True,
        business__phone="555-0100",
        products__1__registration_number="1050000-50001",
        weather=tuple(
            replace(one, read_at=datetime(day.year, day.month, day.day, hour, tzinfo=UTC))
            for one, hour in zip(s.weather, (16, 17, 18, 19), strict=True)
        ),
    )
    return given(full, **changes)


def unsaid(s: Snapshot, name: str) -> dict[str, str]:
    """Return the statements of the record without one."""
    return {key: text for key, text in s.record.statements.items() if key != name}


def without(s: Snapshot, name: str) -> Snapshot:
    """Return the record with one element taken out, and nothing that does not hang on it."""
    changes: dict[str, Any] = dict(_TAKEN_OUT.get(name, {}))
    if name in STATED:
        changes["record__statements"] = unsaid(s, name)
    for path in [key for key in changes if key.startswith("weather")]:
        fact = path.removeprefix("weather__")
        changes["weather"] = tuple(
            replace(one, **{fact: changes[path]}) for one in changes.get("weather", s.weather)
        )
        del changes[path]
    if name in ("repeat-wind", "hourly-wind"):
        changes["weather"] = s.weather[:1]
    if name == "tank-mix":
        changes["products"] = s.products[:1]
    if name == "government-id":
        assert s.field is not None
        changes["field__locations"] = tuple(
            one for one in s.field.locations if one.kind != LocationFormat.PARCEL
        )
    return given(s, **changes)


_DESCRIBED = (LocationFacts(kind="description", text="north of the coulee"),)
_TAKEN_OUT: dict[str, dict[str, Any]] = {
    "customer-name": {"customer__name": ""},
    "customer-address": {"customer__address": ""},
    "applicator-name": {"applicator": None},
    "supervisor-name": {"supervisor": None},
    "licence-number": {"supervisor__licences": ()},
    "business": {"business__address": ""},
    "training-proof": {"applicator__trainings": ()},
    "date": {"record__started_at": None, "record__finished_at": None},
    "time-of-day": {"record__started_at": None, "record__finished_at": None},
    "start-time": {"record__started_at": None},
    "finish-time": {"record__finished_at": None},
    "product-name": {"products__0__name": ""},
    "registration-number": {"products__0__registration_number": ""},
    "active-ingredient": {"products__0__label__ingredients": ()},
    "label-company": {"products__0__registrant": ""},
    "rate": {"products__0__planned_rate": None, "products__0__total_used": None},
    "product-total": {"products__0__total_used": None},
    "dilution": {"loads": (), "record__planned_carrier": None},
    "mix-volume": {"record__planned_carrier": None, "record__mix_used": None},
    "target": {"products__0__target": "", "record__purpose": ""},
    "crop": {"crop": None},
    "crop-code": {"crop__eppo_code": ""},
    "growth-stage": {"crop__growth_stage_bbch": None, "crop__planted_on": None},
    "location-description": {"field__locations": (), "field__boundary": None},
    "location-structured": {"field__locations": _DESCRIBED, "field__boundary": None},
    "treated-area": {"record__treated_area": None},
    "planted-size": {"field__planted_size": None},
    "wind-direction": {"weather__wind_from": None},
    "wind-speed": {"weather__wind_speed": None},
    "air-temperature": {"weather__temperature": None},
    "other-weather": {"weather__humidity": None, "weather__cloud": None},
    "application-method": {"rig": None},
    "equipment": {"rig": None},
    "nozzle": {"nozzle": None},
    "pressure": {"record__pressure": None},
    "reentry-interval": {"products__0__label": None},
    "reentry-time": {"products__0__label": None},
    "start-finish-weather": {"weather__wind_speed": None},
    "strength": {"products__0__label__ingredients": ()},
    "worker-warning": {"products__0__label__worker_warning": ""},
    "preharvest-interval": {"products__0__label": None},
    "field-order": {"loads": ()},
    "telephone": {"business__phone": ""},
    "use-type": {"rig": None},
}
