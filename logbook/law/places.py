"""Place by place: whether its record law is carried here, in full or in part, or not at all."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from functools import lru_cache
from pathlib import Path

from logbook.facts.duty import DutySet
from logbook.facts.messages import gettext_noop
from logbook.law.reader import LAYOUT, duty_sets

TABLE = Path(__file__).parent / "places.toml"


class Carried(StrEnum):
    """How much of the law of a place is carried; "not carried" is not "no rule"."""

    FULL = gettext_noop("in full")
    PART = gettext_noop("in part")
    NONE = gettext_noop("not carried")


@dataclass(frozen=True, kw_only=True)
class Place:
    """A state, province or country: what is carried of its law, and what lacks."""

    code: str
    name: str
    carried: Carried
    note: str = ""  # what lacks, or what was found of a law that is not carried
    last_read: date | None = None  # None: nothing of it was read


@lru_cache(maxsize=1)
def places() -> dict[str, Place]:
    """Return the table by ISO 3166-2 code, of a member of the European Union by its ISO 3166-1.

    A place with sets of its own was last read when the latest of them was.
    Raises: facts.codec.NotRead if the file cannot be read.
    """
    found = {}
    for code, row in tomllib.loads(TABLE.read_text(encoding="utf-8")).items():
        read_on = max((one.last_read for one in own_sets(code) if one.last_read), default=None)
        known = {"last_read": read_on} if read_on else {}
        found[code] = LAYOUT.read(Place, {**row, **known, "code": code})
    return found


def place_of(code: str) -> Place:
    """Return the row of a place, or of the country it is part of; of one without, nothing known.

    Args: code, ISO 3166-2.
    """
    table = places()
    unknown = Place(code=code, name=code, carried=Carried.NONE)
    return table.get(code) or table.get(code.partition("-")[0]) or unknown


def own_sets(code: str) -> tuple[DutySet, ...]:
    """Return the sets that hold at a place, without those of the federation that it is part of."""
    return tuple(one for one in duty_sets() if one.holds_at(code) and one.place != "US")
