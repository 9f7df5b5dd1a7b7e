"""Duty sets from their TOML files, checked in full as they are read."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from functools import lru_cache
from pathlib import Path as File
from typing import Any

from logbook.facts.codec import Layout, NotRead, Problem, Scalar, by
from logbook.facts.duty import (
    Asked,
    Clock,
    Deadline,
    DutySet,
    LocationRule,
    Place,
    SetId,
    Since,
    When,
)
from logbook.facts.quantity import BadAnswer, Quantity, make_quantity
from logbook.facts.strict_json import Path, dotted
from logbook.law.elements import ELEMENTS

SETS = File(__file__).parent / "sets"
_COUNTED = (Clock.HOURS, Clock.DAYS, Clock.WORKING_DAYS)


class BadDutySet(ValueError):
    """A duty set that cannot be read; the message names file, key, value and what is allowed."""


@lru_cache(maxsize=1)
def duty_sets() -> tuple[DutySet, ...]:
    """Return all duty sets that are carried, by id; they are read once in a process.

    Raises: BadDutySet.
    """
    return read_sets(sorted(SETS.glob("*.toml")))


@lru_cache(maxsize=1)
def set_texts() -> dict[str, str]:
    """Return the text of each set's file, by the id of the set."""
    texts = [file.read_text(encoding="utf-8") for file in sorted(SETS.glob("*.toml"))]
    return {read_set(text, name="a duty set").id: text for text in texts}


def read_sets(files: Iterable[File]) -> tuple[DutySet, ...]:
    """Return the sets of the files.

    Raises: BadDutySet if one cannot be read, or two have the same id.
    """
    found: dict[str, File] = {}
    made = []
    for file in files:
        one = read_set(file.read_text(encoding="utf-8"), name=file.name)
        if one.id in found:
            raise BadDutySet(
                f'{file.name}: id = "{one.id}" is taken by {found[one.id].name}; '
                "every set has an id of its own."
            )
        found[one.id] = file
        made.append(one)
    return tuple(made)


def read_set(text: str, *, name: str) -> DutySet:
    """Return the set that the text of one file holds.

    Args: name, of the file, for messages.
    Raises: BadDutySet.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as bad:
        raise BadDutySet(f"{name}: this is not TOML: {bad}.") from None
    try:
        made: DutySet = LAYOUT.read(DutySet, _as_declared(data))
        _check(made)
    except NotRead as bad:
        raise BadDutySet("\n".join(f"{name}: {_said(one, data)}" for one in bad.problems)) from None
    return made


# --- values --------------------------------------------------------------------------------------


def _text(value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        raise ValueError("allowed is a text.")
    return value


def _matching(pattern: str, what: str) -> Scalar:
    def read(value: Any) -> str:
        if not isinstance(value, str) or not re.fullmatch(pattern, value):
            raise ValueError(f"allowed is {what}.")
        return value

    return by(read)


def _day(value: Any) -> date:
    if not isinstance(value, date) or isinstance(value, datetime):
        raise ValueError("allowed is a date, such as 2026-01-31.")
    return value


def _area(value: Any) -> Quantity:
    number, _, unit = _text(value).partition(" ")
    try:
        return make_quantity(number, unit, dimensions=("area",))
    except BadAnswer as bad:
        raise ValueError(f"allowed is an area, such as 5 ac ({bad})") from None


LAYOUT = Layout(
    {
        str: by(_text),
        SetId: _matching("[a-z0-9]+(-[a-z0-9]+)*", "lower-case letters, digits and hyphens"),
        Place: _matching("[A-Z]{2}(-[A-Z0-9]{1,3})?", "a code of ISO 3166, such as US-ND or FR"),
        date: by(_day),
        Quantity: by(_area),
    },
    items=(1, None),
    words={(Asked, "name"): tuple(ELEMENTS), (Asked, "unless"): tuple(ELEMENTS)},
    bounds=True,
)
"""How the files of the law are written."""


# --- from the form of the file to that of the dataclasses ----------------------------------------

_BY_NAME = {"elements": ("name",), "bound": ("role", "products")}
"""Lists of the set that are tables of a file, and the members that the table has no names for."""


def _as_declared(data: dict[str, Any]) -> dict[str, Any]:
    """Return the data of a file in the form of the dataclasses.

    Raises: NotRead.
    """
    how = {"how_read": data["how_read"]} if "how_read" in data else {}
    found = dict(data)
    for key in _BY_NAME.keys() & data.keys():
        if not isinstance(data[key], dict) or not data[key]:
            raise _bad((key,), data[key], "a table that is not empty")
    if "bound" in data:
        found["bound"] = [
            {"role": role, "products": products} for role, products in data["bound"].items()
        ]
    if "elements" in data:
        for name, one in data["elements"].items():
            if not isinstance(one, dict) or "name" in one:
                raise _bad(("elements", name), one, "a table without the key name")
        found["elements"] = [{**one, "name": name} for name, one in data["elements"].items()]
    for key in ("elements", "deadlines", "retention", "access", "locations"):
        if isinstance(found.get(key), list):
            found[key] = [{**how, **one} if isinstance(one, dict) else one for one in found[key]]
    if isinstance(data.get("display"), dict):
        found["display"] = {**how, **data["display"]}
    return found


def _said(problem: Problem, data: dict[str, Any]) -> str:
    """Return what is wrong, at its place in the file."""
    path = problem.path
    if len(path) > 1 and path[0] in _BY_NAME and isinstance(path[1], int):
        left_out = _BY_NAME[path[0]]
        rest = (part for part in path[2:] if part not in left_out)
        path = (path[0], list(data[path[0]])[path[1]], *rest)
    if problem.missing or problem.value is None:
        return f"{dotted(path)}: {problem.allowed}"
    value = f'"{problem.value}"' if isinstance(problem.value, str) else problem.value
    return f"{dotted(path)} = {value}; {problem.allowed}"


def _bad(path: Path, value: Any, allowed: str) -> NotRead:
    return NotRead((Problem(path, value, f"allowed is {allowed}."),))


# --- what holds between values -------------------------------------------------------------------


def _check(one: DutySet) -> None:
    """Raise NotRead for members that contradict each other."""
    if one.in_force_from and one.in_force_to and one.in_force_to < one.in_force_from:
        raise _bad(("in_force_to",), one.in_force_to, f"a day from {one.in_force_from} on")
    if one.in_force_from is None and not one.note:
        raise _bad(("note",), None, "a text that says why in_force_from is not known")
    conditional: dict[str, Sequence[Asked | LocationRule]]
    conditional = {"elements": one.elements, "locations": one.locations}
    for key, rules in conditional.items():
        for place, each in enumerate(rules):
            if (each.when in (When.AREA_OVER, When.AREA_FROM)) != (each.area is not None):
                only = (
                    f'an area where when = "{When.AREA_OVER}" or "{When.AREA_FROM}", and only there'
                )
                raise _bad((key, place, "area"), each.area, only)
    for place, deadline in enumerate(one.deadlines):
        _check_deadline(deadline, ("deadlines", place))


def _check_deadline(one: Deadline, at: Path) -> None:
    if (one.clock in _COUNTED) != (one.count is not None):
        raise _bad(
            (*at, "count"), one.count, f"a number with the clocks {', '.join(_COUNTED)} only"
        )
    if (one.clock is Clock.FIXED_DATE) != (one.day is not None):
        raise _bad((*at, "day"), one.day, f"a day with the clock {Clock.FIXED_DATE} only")
    if one.each_job and one.clock is not Clock.FIXED_DATE:
        raise _bad((*at, "each_job"), True, f"it with the clock {Clock.FIXED_DATE} only")
    if one.month and one.day is None:
        raise _bad((*at, "month"), one.month, "a month beside a day only")
    if one.day and not _every_year_has(one.month, one.day):
        raise _bad((*at, "day"), one.day, "a day that the month has in every year")
    if one.since is Since.BEFORE_START and one.clock is not Clock.HOURS:
        raise _bad((*at, "clock"), one.clock, f"{Clock.HOURS} before the start")
    if one.since is Since.EVENT and one.certain:
        raise _bad((*at, "since"), one.since, "another, or on_request or only_if beside it")


def _every_year_has(month: int | None, day: int) -> bool:
    if month is None:
        return day <= 28
    try:
        date(2023, month, day)
    except ValueError:
        return False
    return True
