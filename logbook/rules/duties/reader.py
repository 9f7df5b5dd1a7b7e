"""Duty sets from their TOML files, checked in full as they are read."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Iterator
from datetime import date, datetime
from enum import StrEnum
from functools import lru_cache, partial
from pathlib import Path
from typing import Any, TypeVar

from logbook.facts.duty import (
    Access,
    Asked,
    Asker,
    Clock,
    Deadline,
    Display,
    DutySet,
    Each,
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
from logbook.facts.quantity import BadAnswer, Quantity, make_quantity
from logbook.rules.duties.elements import ELEMENTS

SETS = Path(__file__).parent / "sets"
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


@lru_cache(maxsize=1)
def set_texts() -> dict[str, str]:
    """Return the text of each set's file, by the id of the set."""
    texts = [file.read_text(encoding="utf-8") for file in sorted(SETS.glob("*.toml"))]
    return {read_set(text, name="a duty set").id: text for text in texts}


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
    """One table of a file: gives its keys one by one and refuses what is left over."""

    def __init__(self, file: str, at: str, data: Any) -> None:
        self._file, self._at = file, at
        if not isinstance(data, dict):
            raise BadDutySet(f"{file}: {at} = {_shown(data)}; allowed is a table.")
        self._data = dict(data)
        self._allowed: list[str] = []

    def bad(self, key: str, value: Any, allowed: str) -> BadDutySet:
        at = f"{self._at}.{key}" if self._at else key
        return BadDutySet(f"{self._file}: {at} = {_shown(value)}; allowed is {allowed}.")

    def take(self, key: str) -> Any:
        self._allowed.append(key)
        return self._data.pop(key, None)

    def needed(self, key: str, value: _T | None) -> _T:
        if value is None:
            raise BadDutySet(f"{self._file}: {self._at or 'the file'} lacks the key {key}.")
        return value

    def end(self) -> None:
        for key, value in self._data.items():
            raise self.bad(key, value, f"only the keys {', '.join(self._allowed)}")

    def inner(self, key: str, data: Any) -> _Table:
        return _Table(self._file, f"{self._at}.{key}" if self._at else key, data)

    def text(self, key: str) -> str | None:
        value = self.take(key)
        if value is not None and (not isinstance(value, str) or not value.strip()):
            raise self.bad(key, value, "a text")
        return value

    def matching(self, key: str, pattern: re.Pattern[str], what: str) -> str:
        value = self.needed(key, self.text(key))
        if not pattern.fullmatch(value):
            raise self.bad(key, value, what)
        return value

    def day(self, key: str) -> date | None:
        value = self.take(key)
        if value is not None and (not isinstance(value, date) or isinstance(value, datetime)):
            raise self.bad(key, value, "a date, such as 2026-01-31")
        return value

    def number(self, key: str, low: int, high: int) -> int | None:
        value = self.take(key)
        if value is not None and (type(value) is not int or not low <= value <= high):
            raise self.bad(key, value, f"a whole number from {low} to {high}")
        return value

    def flag(self, key: str) -> bool:
        value = self.take(key)
        if value is not None and type(value) is not bool:
            raise self.bad(key, value, "true or false")
        return bool(value)

    def word(self, key: str, kind: type[_E], default: _E | None = None) -> _E:
        value = self.take(key)
        return self.needed(key, default) if value is None else self.one_of(key, value, kind)

    def one_of(self, key: str, value: Any, kind: type[_E]) -> _E:
        try:
            return kind(value)
        except ValueError:
            allowed = ", ".join(f'"{one.value}"' for one in kind)
            raise self.bad(key, value, f"one of {allowed}") from None

    def list(self, key: str) -> list[Any]:
        value = self.take(key)
        if value is None:
            return []
        if not isinstance(value, list) or not value:
            raise self.bad(key, value, "a list that is not empty")
        return value

    def words(self, key: str, kind: type[_E]) -> tuple[_E, ...]:
        return tuple(self.one_of(key, value, kind) for value in self.list(key))

    def names(self, key: str) -> tuple[str, ...]:
        values = self.list(key)
        for value in values:
            if value not in ELEMENTS:
                raise self.bad(key, value, f"one of the elements {', '.join(ELEMENTS)}")
        return tuple(values)

    def places(self, key: str) -> tuple[str, ...]:
        values = self.list(key)
        for value in values:
            if not isinstance(value, str) or not _PLACE.fullmatch(value):
                raise self.bad(key, value, "codes of ISO 3166, such as US-ND or FR")
        return tuple(values)

    def area(self, key: str) -> Quantity | None:
        text = self.text(key)
        if text is None:
            return None
        number, _, unit = text.partition(" ")
        try:
            return make_quantity(number, unit, dimensions=("area",))
        except BadAnswer as bad:
            raise self.bad(key, text, f"an area, such as 5 ac ({bad})") from None

    def table(self, key: str) -> dict[str, Any]:
        value = self.take(key)
        if value is not None and (not isinstance(value, dict) or not value):
            raise self.bad(key, value, f"a table [{key}] that is not empty")
        return value or {}

    def tables(self, key: str, read: Callable[[_Table], _T]) -> tuple[_T, ...]:
        return tuple(read(self.inner(f"{key}.{n}", one)) for n, one in enumerate(self.list(key)))


def _shown(value: Any) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value)


def _set(t: _Table) -> DutySet:
    how = t.word("how_read", HowRead)
    display = t.table("display")
    made = DutySet(
        id=t.matching("id", _ID, "lower-case letters, digits and hyphens"),
        title=t.needed("title", t.text("title")),
        place=t.matching("place", _PLACE, "a code of ISO 3166, such as US-ND, GB or EU"),
        covers=t.places("covers"),
        excludes=t.places("excludes"),
        citation=t.needed("citation", t.text("citation")),
        in_force_from=t.day("in_force_from"),
        in_force_to=t.day("in_force_to"),
        note=t.text("note") or "",
        last_read=t.needed("last_read", t.day("last_read")),
        how_read=how,
        bound=tuple(_scopes(t)),
        work=t.words("work", Work) or tuple(Work),
        area_over=t.area("area_over"),
        papers=t.words("papers", Kind) or (Kind.RECORD,),
        one_each=t.words("one_each", Each),
        elements=tuple(_elements(t, how)),
        deadlines=t.tables("deadlines", partial(_deadline, how=how)),
        retention=t.tables("retention", partial(_retention, how=how)),
        display=_display(t.inner("display", display), how=how) if display else None,
        access=t.tables("access", partial(_access, how=how)),
        locations=t.tables("locations", partial(_location, how=how)),
    )
    t.end()
    if made.in_force_from and made.in_force_to and made.in_force_to < made.in_force_from:
        raise t.bad("in_force_to", made.in_force_to, f"a day from {made.in_force_from} on")
    if made.in_force_from is None and not made.note:
        raise t.bad("note", made.note, "a text that says why in_force_from is not known")
    return made


def _scopes(t: _Table) -> Iterator[Scope]:
    bound = t.needed("bound", t.table("bound") or None)
    inner = t.inner("bound", bound)
    for role in bound:
        yield Scope(role=inner.one_of(role, role, Role), products=inner.words(role, Products))


def _elements(t: _Table, how: HowRead) -> Iterator[Asked]:
    for name, data in t.table("elements").items():
        if name not in ELEMENTS:
            raise t.bad("elements", name, f"one of {', '.join(ELEMENTS)}")
        inner = t.inner(f"elements.{name}", data)
        yield Asked(
            name=name,
            how_read=inner.word("how_read", HowRead, how),
            obligation=inner.word("obligation", Obligation, Obligation.REQUIRED),
            **_condition(inner),
            unless=inner.names("unless"),
            roles=inner.words("roles", Role),
            papers=inner.words("papers", Kind),
            detail=inner.text("detail") or "",
        )
        inner.end()


def _condition(t: _Table) -> dict[str, Any]:
    when = t.word("when", When, When.ALWAYS)
    area = t.area("area")
    if (when is When.AREA_OVER) != (area is not None):
        raise t.bad("area", area, f'an area where when = "{When.AREA_OVER}", and only there')
    return {"when": when, "area": area}


def _deadline(t: _Table, *, how: HowRead) -> Deadline:
    made = Deadline(
        kind=t.word("kind", Kind),
        clock=t.word("clock", Clock),
        since=t.word("since", Since, Since.END),
        count=t.number("count", 0, 1000),
        month=t.number("month", 1, 12),
        day=t.number("day", 1, 31),
        to=t.word("to", Party, Party.SELF),
        on_request=t.flag("on_request"),
        only_if=t.text("only_if") or "",
        consent_first=t.flag("consent_first"),
        products=t.words("products", Products),
        roles=t.words("roles", Role),
        how_read=t.word("how_read", HowRead, how),
        detail=t.text("detail") or "",
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
    if made.since is Since.EVENT and made.certain:
        raise t.bad("since", made.since, "another, or on_request or only_if beside it")
    return made


def _every_year_has(month: int | None, day: int) -> bool:
    if month is None:
        return day <= 28
    try:
        date(2023, month, day)
    except ValueError:
        return False
    return True


def _retention(t: _Table, *, how: HowRead) -> Retention:
    made = Retention(
        years=t.needed("years", t.number("years", 1, 100)),
        since=t.word("since", KeepFrom),
        products=t.words("products", Products),
        roles=t.words("roles", Role),
        how_read=t.word("how_read", HowRead, how),
        detail=t.text("detail") or "",
    )
    t.end()
    return made


def _display(t: _Table, *, how: HowRead) -> Display:
    made = Display(
        days_after_reentry=t.needed("days_after_reentry", t.number("days_after_reentry", 1, 1000)),
        how_read=t.word("how_read", HowRead, how),
        detail=t.text("detail") or "",
    )
    t.end()
    return made


def _access(t: _Table, *, how: HowRead) -> Access:
    made = Access(
        who=t.word("who", Asker),
        how_read=t.word("how_read", HowRead, how),
        detail=t.text("detail") or "",
    )
    t.end()
    return made


def _location(t: _Table, *, how: HowRead) -> LocationRule:
    made = LocationRule(
        one_of=t.words("one_of", LocationFormat),
        how_read=t.word("how_read", HowRead, how),
        **_condition(t),
        roles=t.words("roles", Role),
        detail=t.text("detail") or "",
    )
    t.end()
    t.needed("one_of", made.one_of or None)
    return made
