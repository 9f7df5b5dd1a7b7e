"""How a fact of the record is declared: once, on the field of the frozen dataclass that holds it.

Columns and their bounds, inputs, unit menus, what a new record is filled with, the names in a
sentence, the columns of the CSV, the fields of the API and the lines of page and paper all follow
from the declaration; `tests/logbook/test_every_fact.py` walks over all of them.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import MISSING, dataclass
from decimal import Decimal
from enum import IntEnum, StrEnum
from functools import cache
from typing import Any

from logbook.facts.messages import gettext_noop
from logbook.facts.units import Units


@dataclass(frozen=True)
class Usual:
    """Where a quantity mostly lies, both ends included. What lies outside is asked about, never
    refused: it may be true.

    Args: unit, in which the ends are given, and of whose dimension alone they hold; source of the
    range.
    """

    low: float
    high: float
    unit: str
    source: str = gettext_noop("common practice, no source")


@dataclass(frozen=True, kw_only=True)
class Amount:
    """A quantity, or a word in its place: none, not applicable, not measured.

    Args: dimensions a number may have; above, at_least, at_most: bounds in the reference unit of
    the dimension; usual: the usual range, one for each dimension that has one; words: whether the
    three words are answers here.
    """

    dimensions: tuple[str, ...]
    units: Units | None = None
    above: float | None = None
    at_least: float | None = None
    at_most: float | None = None
    usual: tuple[Usual, ...] = ()
    words: bool = True


@dataclass(frozen=True, kw_only=True)
class Text:
    """A text of at most so many letters; `lines`, whether it may have several lines."""

    max_length: int
    lines: bool = False


@dataclass(frozen=True, kw_only=True)
class Count:
    """A whole number."""

    at_least: int
    at_most: int


@dataclass(frozen=True, kw_only=True)
class Number:
    """A decimal number with at most so many digits, `places` of them behind the mark."""

    digits: int
    places: int
    at_least: Decimal
    at_most: Decimal


@dataclass(frozen=True)
class Choice:
    """A word of a closed list, or any number of them; each with how a form puts it.

    blank: whether an empty text stands beside the words; none: what an empty list says, where a
    list that nobody has spoken of is null.
    """

    words: Mapping[str, str]
    many: bool = False
    blank: bool = False
    none: str = ""

    @property
    def allowed(self) -> tuple[str, ...]:
        """What may be stored."""
        return ("", *self.words) if self.blank else tuple(self.words)


@dataclass(frozen=True)
class Flag:
    """Yes or no; null is not said."""


@dataclass(frozen=True)
class Day:
    """A day of the calendar."""


@dataclass(frozen=True)
class Instant:
    """A moment, entered as the clock at the field shows it."""


@dataclass(frozen=True)
class Values:
    """A list of values; `words`, those to choose from, while a file may have others."""

    words: Mapping[str, str] | None = None


@dataclass(frozen=True)
class Outline:
    """A shape on the land, as a GeoJSON geometry in WGS 84."""


@dataclass(frozen=True)
class Computed:
    """What follows from other entries and is never entered."""


@dataclass(frozen=True)
class Row:
    """A row of the shelf, or another record, that is chosen and not typed.

    many: whether the record has a list of them; found: whether it is not chosen but found by what
    else is entered, so that the record has no column for it.
    """

    many: bool = False
    found: bool = False


@dataclass(frozen=True)
class Statements:
    """What a law or a label asks to be stated in words, by the name of the element."""


_Single = Amount | Text | Count | Number | Choice | Flag | Day | Instant
Kind = _Single | Values | Outline | Computed | Row | Statements


class Section(StrEnum):
    """The parts of the record, in the order of the work."""

    WHERE = gettext_noop("Where")
    WHAT = gettext_noop("What")
    WITH = gettext_noop("With what")
    WHEN = gettext_noop("When and by whom")
    WEATHER = gettext_noop("Weather")
    AMOUNTS = gettext_noop("Amounts")
    LOADS = gettext_noop("Loads")
    ASKED = gettext_noop("Asked for by law")
    NOTES = gettext_noop("Note")

    @property
    def id(self) -> str:
        """The name of the part in addresses and in the document."""
        return self.name.lower()


class Prefill(IntEnum):
    """From which earlier record a new one takes the value over; the wider includes the narrower."""

    SAME_RIG = 1
    SAME_FIELD = 2
    SAME_JOB = 3  # only when a person asks for a record like that one


@dataclass(frozen=True, kw_only=True)
class Fact:
    """What is declared of one fact; `name` and `holder` say where it stands."""

    label: str  # as it stands within a sentence, in English: "boom height above the target"
    kind: Kind
    section: Section | None = None  # None: of the shelf, or computed; no entry of a record
    short: str = ""  # where room is narrow; the label where it is blank
    column: str = ""  # the column of the table, where its name is not that of the fact
    path: str = ""  # what findings call it, where that is not its column
    prefill: Prefill | None = None
    resumed: bool = False  # whether a job resumed on another day keeps it
    banded: bool = False  # stands only where the pattern is not broadcast
    folded: bool = False  # seldom needed: its input is unfolded on request
    has_start_value: bool = False  # a new draft holds a value, so it may be taken over unasked
    help: str = ""  # what it means, how it is read, what to mind
    note: str = ""  # what a reader of the schema has to know beyond that
    name: str = ""
    holder: type | None = None

    @property
    def meaning(self) -> str:
        """The label as a sentence, for readers of a schema; of the shelf with its help."""
        said = f"{self.label[0].upper()}{self.label[1:]}."
        return " ".join(filter(None, (said, "" if self.section else self.help, self.note)))

    @property
    def heading(self) -> str:
        """The short label, else the label."""
        return self.short or self.label


def fact(
    label: str, *, default: Any = MISSING, default_factory: Any = MISSING, **declared: Any
) -> Any:
    """Return the field of a dataclass that carries the declaration of its fact.

    Args: default or default_factory, for facts that were sealed before this one was added; the rest
    is that of `Fact`.
    """
    return dataclasses.field(
        default=default,
        default_factory=default_factory,
        metadata={"fact": Fact(label=label, **declared)},
    )


@cache
def declared(holder: type) -> dict[str, Fact]:
    """Return the facts that a dataclass declares, by the names of its fields, in their order."""
    found = {}
    for field in dataclasses.fields(holder):
        if one := field.metadata.get("fact"):
            column = one.column or field.name
            found[field.name] = dataclasses.replace(
                one, name=field.name, holder=holder, column=column, path=one.path or column
            )
    return found


def entered(holder: type) -> dict[str, Fact]:
    """Return the declared facts that are entries of a record, by the names of the fields."""
    return {name: one for name, one in declared(holder).items() if one.section}
