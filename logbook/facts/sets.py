"""The facts of one record as lists: what a draft holds, what the next record takes over."""

from __future__ import annotations

import dataclasses
import typing
from functools import cache

from logbook.facts.record import (
    CropFacts,
    LoadFacts,
    ProductFacts,
    RecordFacts,
    RigFacts,
    Snapshot,
    WeatherFacts,
)
from logbook.facts.spec import Fact, Prefill, Row, Section, Statements, declared, entered

OF_A_RECORD: tuple[Fact, ...] = tuple(
    sorted(
        (one for holder in (Snapshot, CropFacts, RecordFacts) for one in entered(holder).values()),
        key=lambda one: [*Section].index(one.section or Section.NOTES),
    )
)
"""The facts of one record, in the order of the work."""

BY_COLUMN = {one.column: one for one in OF_A_RECORD}

VALUES = tuple(one for one in OF_A_RECORD if not isinstance(one.kind, Row | Statements))
"""Those that are typed, and stand in a column of their own."""

ROWS = tuple(one for one in OF_A_RECORD if one.kind == Row())
"""Those that are one chosen row."""

OF_A_LINE = {"products": ProductFacts, "loads": LoadFacts, "weather": WeatherFacts}
"""The lists of a record, and the class that declares the facts of one line."""


def columns_of(holder: type) -> tuple[str, ...]:
    """Return the columns of the facts that a class declares and a person types, in their order."""
    return tuple(one.column for one in entered(holder).values() if not isinstance(one.kind, Row))


def prefilled(widest: Prefill) -> tuple[str, ...]:
    """Return the columns that a new record takes over, up to the widest reach."""
    return tuple(
        one.column
        for one in OF_A_RECORD
        if one.prefill and one.prefill <= widest and not _many(one)
    )


def resumed() -> tuple[str, ...]:
    """Return the columns that a job resumed on another day keeps."""
    return tuple(one.column for one in OF_A_RECORD if one.resumed and not _many(one))


def _many(one: Fact) -> bool:
    return isinstance(one.kind, Row) and one.kind.many


NAMES = {
    one.path: one.label
    for holder in (Snapshot, RecordFacts, RigFacts)
    for one in entered(holder).values()
}
"""The label of each single fact, by what findings call it."""


@cache
def declared_along(path: str) -> tuple[tuple[Fact, int | None], ...]:
    """Return the facts along a path such as "weather.0.gust", each with its place in a list.

    What names a row, as in "rig.name", is the fact that the row stands for.
    """
    holder: type = Snapshot
    found: list[tuple[Fact, int | None]] = []
    for part in path.split("."):
        if part.isdigit() and found[-1][1] is None:
            found[-1] = (found[-1][0], int(part))
        elif dataclasses.is_dataclass(holder) and part in holder.__dataclass_fields__:
            fact = declared(holder).get(part)
            if fact and not (found and part in ("name", "edition")):
                found.append((fact, None))
            holder = _class_in(typing.get_type_hints(holder)[part]) or holder
    return tuple(found)


def _class_in(hint: object) -> type | None:
    """Return the dataclass in a type such as `PersonFacts | None` or `tuple[LoadFacts, ...]`."""
    inner = [one for one in (hint, *typing.get_args(hint)) if dataclasses.is_dataclass(one)]
    return typing.cast("type", inner[0]) if inner else None
