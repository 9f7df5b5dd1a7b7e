"""Plain JSON into the dataclasses of the facts; every place that cannot be read is named.

The same type annotations make the published schema (`schema`), so the two cannot say different
things of a member.
"""

from __future__ import annotations

import json
import re
import typing
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _
from pydantic_core import core_schema

from calc.geometry import check_shape
from calc.units import UNITS
from logbook.facts import codec
from logbook.facts.quantity import Quantity
from logbook.facts.strict_json import from_root
from logbook.localization.locale import localized
from logbook.validators import FIRST_YEAR, LAST_YEAR

CLOSED: dict[tuple[type, str], tuple[str, ...]] = {(Quantity, "unit"): tuple(UNITS)}
"""Texts that are words of a list which no declaration closes."""

MAX_TEXT = 20_000
MAX_ITEMS = 2_000
MAX_CORNERS = 5_000
MAX_PARTS = 50
"""Polygons of one field; each is compared with each."""

MAX_PROBLEMS = 200
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


def excerpt(value: Any) -> str:
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
        if len(self.problems) < MAX_PROBLEMS:
            self.problems.append(Problem(place, "" if absent else excerpt(value), allowed, which))
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
            value, unknown = LAYOUT.read_known(kind, data)
        except codec.NotRead as bad:
            for one in bad.problems:
                at = place + from_root(one.path)[1:]
                if one.unknown:
                    self._pass_over(at)
                else:
                    self.refuse(at, one.value, localized(one.allowed), absent=one.missing)
            raise Unreadable from None
        for path in unknown:
            self._pass_over(place + from_root(path)[1:])
        return value

    def members(self, data: Any, place: str, known: typing.Iterable[str]) -> dict[str, Any]:
        """Return the members of an object, noting those that nobody here knows.

        Raises: Unreadable if it is no object.
        """
        if not isinstance(data, dict):
            self.refuse(place, data, _("an object is needed here."))
            raise Unreadable
        for name in data.keys() - set(known):
            self._pass_over(f"{place}.{name}")
        return data

    def _pass_over(self, place: str) -> None:
        self.unknown[re.sub(r"\[\d+\]", "[]", place)[:200]] = None


def _boundary(data: Any) -> Any:
    if not isinstance(data, dict):
        raise ValueError(_("a GeoJSON Polygon or MultiPolygon is needed here."))
    parts = data.get("coordinates")
    corners = sum(1 for _ in _positions(parts))
    if corners > MAX_CORNERS or (isinstance(parts, list) and len(parts) > MAX_PARTS):
        raise ValueError(
            _("a boundary has at most %(corners)d corners in %(parts)d parts or rings.")
            % {"corners": MAX_CORNERS, "parts": MAX_PARTS}
        )
    check_shape(shape=data)
    return data


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


LAYOUT = codec.Layout(
    {
        str: core_schema.str_schema(strict=True, max_length=MAX_TEXT),
        int: core_schema.int_schema(strict=True, ge=-LARGEST, le=LARGEST),
        dict[str, Any]: codec.by(_boundary),
        Decimal: codec.by(_decimal),
        date: codec.by(_day),
        datetime: codec.by(_instant),
    },
    items=(0, MAX_ITEMS),
    words=CLOSED,
)
"""How facts are written in a file of records; they are read with more care than what is sealed."""
