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
from logbook.facts.spec import Fact, Prefill, Row, Section, Statements, declared

GROWTH_STAGE = declared(CropFacts)["growth_stage_bbch"]

OF_A_RECORD: tuple[Fact, ...] = tuple(
    sorted(
        (*declared(Snapshot).values(), GROWTH_STAGE, *declared(RecordFacts).values()),
        key=lambda one: list(Section).index(one.section),
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
    return tuple(one.column for one in declared(holder).values() if not isinstance(one.kind, Row))


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
    for one in declared(holder).values()
}
"""The label of each single fact, by what findings call it."""


@cache
def declared_at(path: str) -> Fact | None:
    """Return the fact at a path of the facts, such as "weather.0.gust"; None for one undeclared.

    What names a row, as in "rig.name", is the fact that the row stands for.
    """
    holder: type = Snapshot
    found = None
    for part in path.split("."):
        if part.isdigit():
            continue
        if not dataclasses.is_dataclass(holder) or part not in holder.__dataclass_fields__:
            return None
        here = declared(holder).get(part)
        found = here or (found if part in ("name", "edition") else None)
        holder = _class_in(typing.get_type_hints(holder)[part]) or holder
    return found


def _class_in(hint: object) -> type | None:
    """Return the dataclass in a type such as `PersonFacts | None` or `tuple[LoadFacts, ...]`."""
    inner = [one for one in (hint, *typing.get_args(hint)) if dataclasses.is_dataclass(one)]
    return typing.cast("type", inner[0]) if inner else None
