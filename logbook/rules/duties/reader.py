"""Duty sets from their TOML files, checked in full as they are read."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Iterator
from datetime import date, datetime
from enum import StrEnum
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

from logbook.rules.duties.elements import ELEMENTS
from logbook.rules.duties.model import (
    Access,
    Asked,
    Asker,
    Clock,
    Deadline,
    Display,
    DutySet,
    HowRead,
    KeepFrom,
    Kind,
    LocationFormat,
    LocationRule,
    Obligation,
    Party,
    Products,
    Retention,
    Role,
    Scope,
    Since,
    When,
    Work,
)
from logbook.rules.quantity import BadAnswer, Quantity, parse_answer

SETS = Path(__file__).parent / "sets"
MOST_YEARS = 100
_PLACE = re.compile(r"[A-Z]{2}(-[A-Z0-9]{1,3})?")
_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_COUNTED = (Clock.HOURS, Clock.DAYS, Clock.WORKING_DAYS)
_E = TypeVar("_E", bound=StrEnum)
_T = TypeVar("_T")


class BadDutySet(ValueError):
    """A duty set that cannot be read; the message names file, key, value and what is allowed."""


@lru_cache(maxsize=1)
def duty_sets() -> tuple[DutySet, ...]:
    """Return all duty sets that are carried, by id; they are read once in a process.

    Raises: BadDutySet.
    """
    return read_sets(sorted(SETS.glob("*.toml")))


def read_sets(files: Iterable[Path]) -> tuple[DutySet, ...]:
    """Return the sets of the files.

    Raises: BadDutySet if one cannot be read, or two have the same id.
    """
    found: dict[str, Path] = {}
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
    return _set(_Table(name, "", data))


class _Table:
    """One table of a file: takes its keys one by one and refuses what is left over."""

    def __init__(self, file: str, at: str, data: Any) -> None:
        self._file, self._at = file, at
        if not isinstance(data, dict):
            raise BadDutySet(f"{file}: {at} = {_shown(data)} is not a table.")
        self._data = dict(data)
        self._allowed: list[str] = []

    def bad(self, key: str, value: Any, allowed: str) -> BadDutySet:
        at = f"{self._at}.{key}" if self._at else key
        return BadDutySet(f"{self._file}: {at} = {_shown(value)}; allowed is {allowed}.")

    def take(self, key: str, *, required: bool = False) -> Any:
        self._allowed.append(key)
        if required and key not in self._data:
            raise BadDutySet(f"{self._file}: {self._at or 'the file'} lacks the key {key}.")
        return self._data.pop(key, None)

    def end(self) -> None:
        for key, value in self._data.items():
            raise self.bad(key, value, f"only the keys {', '.join(self._allowed)}")

    def text(self, key: str, *, required: bool = False) -> str:
        value = self.take(key, required=required)
        if value is None:
            return ""
        if not isinstance(value, str) or not value.strip():
            raise self.bad(key, value, "a text")
        return value

    def matching(self, key: str, pattern: re.Pattern[str], what: str) -> str:
        value = self.text(key, required=True)
        if not pattern.fullmatch(value):
            raise self.bad(key, value, what)
        return value

    def day(self, key: str, *, required: bool = False) -> date | None:
        value = self.take(key, required=required)
        if value is None:
            return None
        if not isinstance(value, date) or isinstance(value, datetime):
            raise self.bad(key, value, "a date, such as 2026-01-31")
        return value

    def number(self, key: str, low: int, high: int, *, required: bool = False) -> int | None:
        value = self.take(key, required=required)
        if value is None:
            return None
        if type(value) is not int or not low <= value <= high:
            raise self.bad(key, value, f"a whole number from {low} to {high}")
        return value

    def flag(self, key: str) -> bool:
        value = self.take(key)
        if value not in (None, True, False):
            raise self.bad(key, value, "true or false")
        return bool(value)

    def word(self, key: str, kind: type[_E], default: _E | None = None) -> _E:
        value = self.take(key, required=default is None)
        if value is None and default is not None:
            return default
        return self._one(key, value, kind)

    def words(self, key: str, kind: type[_E]) -> tuple[_E, ...]:
        return tuple(self._one(key, value, kind) for value in self.list(key))

    def list(self, key: str) -> list[Any]:
        value = self.take(key)
        if value is None:
            return []
        if not isinstance(value, list) or not value:
            raise self.bad(key, value, "a list that is not empty")
        return value

    def names(self, key: str) -> tuple[str, ...]:
        for value in (values := self.list(key)):
            if value not in ELEMENTS:
                raise self.bad(key, value, f"one of the elements {', '.join(ELEMENTS)}")
        return tuple(values)

    def places(self, key: str) -> tuple[str, ...]:
        for value in (values := self.list(key)):
            if not isinstance(value, str) or not _PLACE.fullmatch(value):
                raise self.bad(key, value, "codes of ISO 3166, such as US-ND or FR")
        return tuple(values)

    def area(self, key: str) -> Quantity | None:
        text = self.text(key)
        if not text:
            return None
        try:
            area = parse_answer(text, dimensions=("area",), words=False)
        except BadAnswer as bad:
            raise self.bad(key, text, f"an area, such as 5 ac ({bad})") from None
        return area if isinstance(area, Quantity) else None

    def tables(self, key: str, read: Callable[[_Table], _T]) -> tuple[_T, ...]:
        value = self.take(key)
        if value is None:
            return ()
        if not isinstance(value, list):
            raise self.bad(key, value, f"tables [[{key}]]")
        return tuple(
            read(_Table(self._file, f"{key}.{place}", one)) for place, one in enumerate(value)
        )

    def table(self, key: str, *, required: bool = False) -> dict[str, Any]:
        value = self.take(key, required=required)
        if value is None:
            return {}
        if not isinstance(value, dict):
            raise self.bad(key, value, f"a table [{key}]")
        return value

    def under(self, key: str, name: str, data: Any) -> _Table:
        return _Table(self._file, f"{key}.{name}", data)

    def _one(self, key: str, value: Any, kind: type[_E]) -> _E:
        try:
            return kind(value)
        except ValueError:
            allowed = ", ".join(f'"{one.value}"' for one in kind)
            raise self.bad(key, value, f"one of {allowed}") from None


def _shown(value: Any) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value)


def _set(t: _Table) -> DutySet:
    how = t.word("how_read", HowRead)
    bound = tuple(_scopes(t))
    made = DutySet(
        id=t.matching("id", _ID, "lower-case letters, digits and hyphens"),
        title=t.text("title", required=True),
        place=t.matching("place", _PLACE, "a code of ISO 3166, such as US-ND, GB or EU"),
        covers=t.places("covers"),
        excludes=t.places("excludes"),
        citation=t.text("citation", required=True),
        in_force_from=t.day("in_force_from"),
        in_force_to=t.day("in_force_to"),
        note=t.text("note"),
        last_read=_given(t.day("last_read", required=True)),
        how_read=how,
        bound=bound,
        work=t.words("work", Work) or tuple(Work),
        area_over=t.area("area_over"),
        papers=t.words("papers", Kind) or (Kind.RECORD,),
        elements=tuple(_elements(t, how)),
        deadlines=t.tables("deadlines", lambda one: _deadline(one, how)),
        retention=t.tables("retention", lambda one: _retention(one, how)),
        display=next((_display(t.under("display", "", one), how) for one in _some(t)), None),
        access=t.tables("access", lambda one: _access(one, how)),
        locations=t.tables("locations", lambda one: _location(one, how)),
    )
    t.end()
    if made.in_force_from and made.in_force_to and made.in_force_to < made.in_force_from:
        raise t.bad("in_force_to", made.in_force_to, f"a day from {made.in_force_from} on")
    if made.last_read < (made.in_force_to or date.min):
        raise t.bad("last_read", made.last_read, f"a day from {made.in_force_to} on")
    if made.in_force_from is None and not made.note:
        raise t.bad("note", made.note, "a note that says why in_force_from is not known")
    return made


def _some(t: _Table) -> Iterator[dict[str, Any]]:
    if display := t.table("display"):
        yield display


def _given(day: date | None) -> date:
    # `take` has refused a key that lacks.
    assert day is not None  # noqa: S101
    return day


def _scopes(t: _Table) -> Iterator[Scope]:
    bound = t.table("bound", required=True)
    if not bound:
        raise t.bad("bound", "", "at least one role with its products")
    for role, products in bound.items():
        inner = t.under("bound", "", {role: products})
        yield Scope(role=inner._one(role, role, Role), products=inner.words(role, Products))


def _elements(t: _Table, how: HowRead) -> Iterator[Asked]:
    for name, data in t.table("elements").items():
        if name not in ELEMENTS:
            raise t.bad("elements", name, f"one of {', '.join(ELEMENTS)}")
        inner = t.under("elements", name, data)
        yield Asked(
            name=name,
            how_read=inner.word("how_read", HowRead, how),
            obligation=inner.word("obligation", Obligation, Obligation.REQUIRED),
            **_condition(inner),
            unless=inner.names("unless"),
            roles=inner.words("roles", Role),
            papers=inner.words("papers", Kind),
            detail=inner.text("detail"),
        )
        inner.end()


def _condition(t: _Table) -> dict[str, Any]:
    when = t.word("when", When, When.ALWAYS)
    area = t.area("area")
    if (when is When.AREA_OVER) != (area is not None):
        raise t.bad("area", area, f'an area together with when = "{When.AREA_OVER}", and only so')
    return {"when": when, "area": area}


def _deadline(t: _Table, how: HowRead) -> Deadline:
    made = Deadline(
        kind=t.word("kind", Kind),
        clock=t.word("clock", Clock),
        since=t.word("since", Since, Since.END),
        count=t.number("count", 0, 1000),
        month=t.number("month", 1, 12),
        # No month is shorter, so that every month has the day.
        day=t.number("day", 1, 31),
        to=t.word("to", Party, Party.SELF),
        on_request=t.flag("on_request"),
        only_if=t.text("only_if"),
        products=t.words("products", Products),
        roles=t.words("roles", Role),
        how_read=t.word("how_read", HowRead, how),
        detail=t.text("detail"),
    )
    t.end()
    if (made.clock in _COUNTED) != (made.count is not None):
        raise t.bad("count", made.count, f"a number with the clocks {', '.join(_COUNTED)} only")
    if (made.clock is Clock.FIXED_DATE) != (made.day is not None):
        raise t.bad("day", made.day, f"a day with the clock {Clock.FIXED_DATE} only")
    if made.month and made.day is None:
        raise t.bad("month", made.month, "a month beside a day only")
    if made.day and not _every_year_has(made.month, made.day):
        raise t.bad("day", made.day, "a day that the month has in every year")
    if made.since is Since.BEFORE_START and made.clock is not Clock.HOURS:
        raise t.bad("clock", made.clock, f"{Clock.HOURS} before the start")
    return made


def _every_year_has(month: int | None, day: int) -> bool:
    if month is None:
        return day <= 28
    try:
        date(2023, month, day)
    except ValueError:
        return False
    return True


def _retention(t: _Table, how: HowRead) -> Retention:
    made = Retention(
        years=t.number("years", 1, MOST_YEARS, required=True) or 0,
        since=t.word("since", KeepFrom),
        products=t.words("products", Products),
        roles=t.words("roles", Role),
        how_read=t.word("how_read", HowRead, how),
        detail=t.text("detail"),
    )
    t.end()
    return made


def _display(t: _Table, how: HowRead) -> Display:
    made = Display(
        days_after_reentry=t.number("days_after_reentry", 1, 1000, required=True) or 0,
        how_read=t.word("how_read", HowRead, how),
        detail=t.text("detail"),
    )
    t.end()
    return made


def _access(t: _Table, how: HowRead) -> Access:
    made = Access(
        who=t.word("who", Asker),
        how_read=t.word("how_read", HowRead, how),
        detail=t.text("detail"),
    )
    t.end()
    return made


def _location(t: _Table, how: HowRead) -> LocationRule:
    made = LocationRule(
        one_of=t.words("one_of", LocationFormat),
        how_read=t.word("how_read", HowRead, how),
        **_condition(t),
        roles=t.words("roles", Role),
        detail=t.text("detail"),
    )
    t.end()
    if not made.one_of:
        raise t.bad("one_of", "", "at least one format")
    return made
