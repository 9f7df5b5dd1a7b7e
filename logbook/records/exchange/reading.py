"""Plain JSON into the dataclasses of the facts; every place that cannot be read is named.

The same type annotations make the published schema (`schema`), so the two cannot say different
things of a member.
"""

from __future__ import annotations

import dataclasses
import json
import re
import types
import typing
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from django.utils.translation import gettext as _

from calc.geometry import check_shape
from calc.units import UNITS
from logbook.base.locale import spoken
from logbook.base.validators import FIRST_YEAR, LAST_YEAR
from logbook.facts.quantity import Absence, Answer, Nothing, Quantity
from logbook.facts.spec import Choice, declared

MOST_TEXT = 20_000
MOST_ITEMS = 2_000
MOST_CORNERS = 5_000
MOST_PARTS = 50
"""Polygons of one field; each is compared with each."""

MOST_PROBLEMS = 200
"""Further ones are counted, not listed."""

LARGEST = 2**31 - 1
DECIMAL = re.compile(r"-?[0-9]{1,12}(\.[0-9]{1,12})?")
DAY = re.compile("[0-9]{4}-[0-9]{2}-[0-9]{2}")
INSTANT = re.compile(
    rf"{DAY.pattern}T[0-9]{{2}}:[0-9]{{2}}(:[0-9]{{2}}(\.[0-9]{{1,6}})?)?(Z|[+-][0-9]{{2}}:[0-9]{{2}})"
)


@dataclass(frozen=True)
class Problem:
    """One place in the file that cannot be taken: where, what stands there, what is allowed; which
    record it is of, by customer and field as the file names them.
    """

    place: str
    value: str
    allowed: str
    which: str = ""

    def __str__(self) -> str:
        stands = f" {self.value}:" if self.value else ""
        which = f" ({self.which})" if self.which else ""
        return f"{self.place}:{stands} {self.allowed}{which}"


def shown(value: Any) -> str:
    """Return a value as it stands in the file, shortened."""
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= 80 else f"{text[:77]}…"


class Unreadable(Exception):
    """Something in this value was named as a problem; there is nothing to go on with."""


class Reader:
    """Reads values by their types and gathers what cannot be read, and what is not known."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []
        self.further = 0
        self.unknown: dict[str, None] = {}

    def refuse(
        self, place: str, value: Any, allowed: str, *, absent: bool = False, which: str = ""
    ) -> None:
        """Note a problem."""
        if len(self.problems) < MOST_PROBLEMS:
            self.problems.append(Problem(place, "" if absent else shown(value), allowed, which))
        else:
            self.further += 1

    @property
    def failed(self) -> bool:
        """Whether there is anything that cannot be taken."""
        return bool(self.problems)

    def read(self, kind: Any, data: Any, place: str) -> Any:
        """Return `data` as a value of the type `kind`.

        Raises: Unreadable, when everything wrong with it has been noted.
        """
        try:
            return self._read(kind, data, place)
        except ValueError as bad:
            self.refuse(place, data, spoken(bad))
            raise Unreadable from None

    def members(self, data: Any, place: str, known: typing.Iterable[str]) -> dict[str, Any]:
        """Return the members of an object, noting those that nobody here knows.

        Raises: Unreadable if it is no object.
        """
        if not isinstance(data, dict):
            self.refuse(place, data, _("an object is needed here."))
            raise Unreadable
        for name in data.keys() - set(known):
            self.unknown[re.sub(r"\[\d+\]", "[]", f"{place}.{name}")[:200]] = None
        return data

    def _read(self, kind: Any, data: Any, place: str) -> Any:
        if kind == Answer:
            return None if data is None else self._answer(data, place)
        if kind is Quantity:
            return self._quantity(data, place)
        if isinstance(kind, types.UnionType):
            inner = next(one for one in typing.get_args(kind) if one is not types.NoneType)
            return None if data is None else self.read(inner, data, place)
        if typing.get_origin(kind) is tuple:
            return self._list(typing.get_args(kind)[0], data, place)
        if typing.get_origin(kind) is dict:
            named = typing.get_args(kind)[1] is str
            return self._texts(data, place) if named else self._boundary(data)
        if dataclasses.is_dataclass(kind):
            return self._object(typing.cast("type", kind), data, place)
        if issubclass(kind, StrEnum):
            return _word(kind, data)
        return _PLAIN[kind](data)

    def _object(self, kind: type, data: Any, place: str) -> Any:
        hints = typing.get_type_hints(kind)
        fields = dataclasses.fields(kind)
        data = self.members(data, place, [field.name for field in fields])
        found, whole = {}, True
        for field in fields:
            inner = f"{place}.{field.name}"
            if field.name in data:
                try:
                    found[field.name] = self.read(hints[field.name], data[field.name], inner)
                    self._refuse_other_words(kind, field.name, found[field.name], inner)
                except Unreadable:
                    whole = False
            elif needed(field):
                self.refuse(inner, None, _("this member is missing."), absent=True)
                whole = False
        if not whole:
            raise Unreadable
        return kind(**found)

    def _refuse_other_words(self, kind: type, name: str, value: Any, place: str) -> None:
        words = closed(kind, name)
        if not words:
            return
        given = {place: value} if isinstance(value, str) else dict(_numbered(value, place))
        other = {at: word for at, word in given.items() if word not in words}
        for at, word in other.items():
            self.refuse(
                at, word, _("allowed are %(values)s.") % {"values": ", ".join(filter(None, words))}
            )
        if other:
            raise Unreadable

    def _list(self, kind: Any, data: Any, place: str) -> tuple[Any, ...]:
        if not isinstance(data, list):
            raise ValueError(_("a list is needed here."))
        if len(data) > MOST_ITEMS:
            raise ValueError(
                _("%(count)d items are too many; at most %(most)d stand here.")
                % {"count": len(data), "most": MOST_ITEMS}
            )
        found, whole = [], True
        for number, item in enumerate(data):
            try:
                found.append(self.read(kind, item, f"{place}[{number}]"))
            except Unreadable:
                whole = False
        if not whole:
            raise Unreadable
        return tuple(found)

    def _texts(self, data: Any, place: str) -> dict[str, str]:
        if not isinstance(data, dict):
            raise ValueError(_("an object is needed here."))
        return {
            text(name): self.read(str, value, f"{place}.{name}") for name, value in data.items()
        }

    def _boundary(self, data: Any) -> Any:
        if not isinstance(data, dict):
            raise ValueError(_("a GeoJSON Polygon or MultiPolygon is needed here."))
        parts = data.get("coordinates")
        corners = sum(1 for _ in _positions(parts))
        if corners > MOST_CORNERS or (isinstance(parts, list) and len(parts) > MOST_PARTS):
            raise ValueError(
                _("a boundary has at most %(corners)d corners in %(parts)d parts or rings.")
                % {"corners": MOST_CORNERS, "parts": MOST_PARTS}
            )
        check_shape(shape=data)
        return data

    def _answer(self, data: Any, place: str) -> Quantity | Nothing:
        if isinstance(data, dict) and "nothing" in data:
            self.members(data, place, ("nothing", "reason"))
            return Nothing(_word(Absence, data["nothing"]), text(data.get("reason", "")))
        return self._quantity(data, place)

    def _quantity(self, data: Any, place: str) -> Quantity:
        if not isinstance(data, dict) or not {"value", "unit"} <= data.keys():
            raise ValueError(
                _(
                    'a quantity is written {"value": "12.5", "unit": "gal/ac"}, a word '
                    '{"nothing": "not measured", "reason": "no meter"}, blank null.'
                )
            )
        self.members(data, place, ("value", "unit"))
        value, unit = self.read(Decimal, data["value"], f"{place}.value"), data["unit"]
        if not isinstance(unit, str) or unit not in UNITS:
            self.refuse(
                f"{place}.unit", unit, _("allowed are %(values)s.") % {"values": ", ".join(UNITS)}
            )
            raise Unreadable
        return Quantity(value, unit)


def _numbered(items: tuple[Any, ...], place: str) -> typing.Iterator[tuple[str, Any]]:
    for number, item in enumerate(items):
        yield f"{place}[{number}]", item


def closed(kind: type, name: str) -> tuple[str, ...]:
    """Return the words that a text of the facts, or of a list of texts, may be; () for any."""
    one = declared(kind).get(name)
    return one.kind.allowed if one and isinstance(one.kind, Choice) else ()


def needed(field: dataclasses.Field[Any]) -> bool:
    """Return whether a member may not be absent: a fact that came later has a default."""
    unset = dataclasses.MISSING
    return field.default is unset and field.default_factory is unset


def _positions(value: Any) -> typing.Iterator[None]:
    """Yield once for every list that holds no list: a position."""
    waiting = [value]
    while waiting:
        item = waiting.pop()
        if isinstance(item, list):
            inner = [each for each in item if isinstance(each, list)]
            waiting += inner
            if not inner:
                yield None


def text(data: Any) -> str:
    """Return a text.

    Raises: ValueError saying what is allowed; so do all readers of one plain value here.
    """
    if not isinstance(data, str):
        raise ValueError(_("a text is needed here."))
    if len(data) > MOST_TEXT:
        raise ValueError(
            _("%(count)d characters are too many; at most %(most)d stand here.")
            % {"count": len(data), "most": MOST_TEXT}
        )
    return data


def _whole(data: Any) -> int:
    if isinstance(data, bool) or not isinstance(data, int):
        raise ValueError(_("a whole number is needed here."))
    if abs(data) > LARGEST:
        raise ValueError(_("at most %(most)d is possible here.") % {"most": LARGEST})
    return data


def _number(data: Any) -> float:
    if isinstance(data, bool) or not isinstance(data, int | float):
        raise ValueError(_("a number is needed here."))
    return float(data)


def _truth(data: Any) -> bool:
    if not isinstance(data, bool):
        raise ValueError(_("true or false is needed here."))
    return data


def _decimal(data: Any) -> Decimal:
    if not isinstance(data, str) or not DECIMAL.fullmatch(data):
        raise ValueError(
            _(
                'a decimal is written as a text such as "12.5", with at most 12 digits before and '
                "12 after the point."
            )
        )
    return Decimal(data)


def _day(data: Any) -> date:
    if isinstance(data, str) and DAY.fullmatch(data):
        day = date.fromisoformat(data)
        if FIRST_YEAR <= day.year <= LAST_YEAR:
            return day
    raise ValueError(
        _("a day of the years %(first)d to %(last)d is written like 2026-06-12 (ISO 8601).")
        % {"first": FIRST_YEAR, "last": LAST_YEAR}
    )


def _instant(data: Any) -> datetime:
    if isinstance(data, str) and INSTANT.fullmatch(data):
        instant = datetime.fromisoformat(data)
        # The year as written is looked at first: beyond 9999 no datetime can be reckoned.
        written = FIRST_YEAR <= instant.year <= LAST_YEAR
        if written and FIRST_YEAR <= instant.astimezone(UTC).year <= LAST_YEAR:
            return instant.astimezone(UTC)
    raise ValueError(
        _(
            "a time of the years %(first)d to %(last)d is written with its offset from UTC, like "
            "2026-06-12T09:30:00-05:00 (ISO 8601)."
        )
        % {"first": FIRST_YEAR, "last": LAST_YEAR}
    )


def _word(kind: type[StrEnum], data: Any) -> Any:
    if data not in list(kind):
        raise ValueError(_("allowed are %(values)s.") % {"values": ", ".join(kind)})
    return kind(data)


_PLAIN: dict[Any, Callable[[Any], Any]] = {
    str: text,
    int: _whole,
    float: _number,
    bool: _truth,
    Decimal: _decimal,
    date: _day,
    datetime: _instant,
}
