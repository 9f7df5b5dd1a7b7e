"""Pages by key: page 20,000 costs what page 1 costs, because no row before it is read.

The place in a list is the key of the row where a page ended. An offset would count all rows before
it, and show a row twice or never when somebody writes meanwhile.
"""

from __future__ import annotations

import json
from base64 import urlsafe_b64decode, urlsafe_b64encode
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from logbook.errors.exceptions import RefusedInput

AFTER, BEFORE = "after", "before"
"""The names of the two places in an address: go on after, or back before the row of a key."""

Key = tuple[str, type[Any]]
"""A column that a list is sorted by, never empty, and the type of what it holds."""

LONGEST = 2000
MAX_NUMBER = 2**31 - 1


@dataclass(frozen=True, slots=True)
class Page:
    """Rows of a page, and the places from which the pages before and after it go on; "" for none.

    As a list, the page has its rows for its items.
    """

    rows: list[Any]
    before: str
    after: str

    @property
    def alone(self) -> bool:
        """Whether there is no other page."""
        return not (self.before or self.after)


def page_of(
    rows: QuerySet[Any],
    *,
    keys: Sequence[Key],
    descending: bool,
    query: Mapping[str, str],
    size: int,
    also: Iterable[Any] = (),
) -> Page:
    """Return the page of `rows` that a query names by `after` or `before`; else the first.

    Args: keys, of which the last tells any two rows apart; all of them go in one direction; also,
    some rows at hand that stand among them by the same keys.
    Raises: RefusedInput naming `after` or `before` if this service made no such place.
    """
    before = query.get(BEFORE, "")
    back = bool(before)
    token = before or query.get(AFTER, "")
    down = descending is not back
    if token:
        place = read_place(token, keys, name=BEFORE if back else AFTER)
        rows = rows.filter(beyond(keys, place, descending=down))
        also = [one for one in also if one_key(one, keys) != place]
        also = [one for one in also if (one_key(one, keys) < place) is down]
    sign = "-" if down else ""
    found = list(rows.order_by(*(sign + name for name, _ in keys))[: size + 1])
    if also:
        found = sorted([*found, *also], key=lambda row: one_key(row, keys), reverse=down)
    more = len(found) > size
    found = found[:size]
    if back:
        found.reverse()
    return Page(
        rows=found,
        before=place_of(found[0], keys) if found and (more if back else token) else "",
        after=place_of(found[-1], keys) if found and (back or more) else "",
    )


def beyond(keys: Sequence[Key], place: Sequence[Any], *, descending: bool) -> Q:
    """Return the condition that a row stands after `place` in the order of the keys.

    The first key is compared twice: alone, an index serves it.
    """
    step = "lt" if descending else "gt"
    condition = Q()
    for (name, _kind), value in reversed(list(zip(keys, place, strict=True))):
        further = Q(**{f"{name}__{step}": value})
        condition = further | (Q(**{name: value}) & condition) if condition else further
    if len(keys) == 1:
        return condition
    return Q(**{f"{keys[0][0]}__{step}e": place[0]}) & condition


def place_of(row: Any, keys: Sequence[Key]) -> str:
    """Return the place of a row, as an address carries it."""
    values = one_key(row, keys)
    told = [
        v if isinstance(v, int | str) else v.hex if isinstance(v, UUID) else v.isoformat()
        for v in values
    ]
    return urlsafe_b64encode(json.dumps(told, separators=(",", ":")).encode()).decode().rstrip("=")


def one_key(row: Any, keys: Sequence[Key]) -> list[Any]:
    """Return the key of a row."""
    return [_value(row, name) for name, _ in keys]


def _value(row: Any, name: str) -> Any:
    if isinstance(row, dict):
        return row[name]
    for part in name.split("__"):
        row = getattr(row, part)
    return row


def read_place(token: str, keys: Sequence[Key], *, name: str) -> list[Any]:
    """Return the key that a place in an address stands for.

    Raises: RefusedInput naming it if this service made no such place.
    """
    try:
        if len(token) > LONGEST:
            raise ValueError(name)
        told = json.loads(urlsafe_b64decode(token + "=" * (-len(token) % 4)))
        if not isinstance(told, list) or len(told) != len(keys):
            raise ValueError(name)
        return [_read(one, kind) for one, (_, kind) in zip(told, keys, strict=True)]
    except (ValueError, OverflowError, RecursionError):
        shown = token if len(token) <= 40 else f"{token[:40]}…"
        raise RefusedInput(
            {
                name: [
                    _('"%(place)s" is no place in this list; follow the links of its pages.')
                    % {"place": shown}
                ]
            }
        ) from None


def _read(told: Any, kind: type[Any]) -> Any:
    """Return one value of a key.

    Raises: ValueError if it is not of its kind, or no column could hold it.
    """
    if kind is int:
        if type(told) is not int or not 0 <= told <= MAX_NUMBER:
            raise ValueError(told)
        return told
    if not isinstance(told, str) or "\x00" in told:
        raise ValueError(told)
    told.encode()  # half a surrogate pair is no text
    if kind is UUID:
        return UUID(told)
    if kind is date:
        return date.fromisoformat(told)
    if kind is datetime:
        instant = datetime.fromisoformat(told)
        if instant.tzinfo is None:
            raise ValueError(told)
        instant.astimezone(tz=None)
        return instant
    return told
