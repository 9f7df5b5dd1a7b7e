"""Published values: reads fixtures/vectors/<topic>.csv and compares a computed value with a row.

A row says: id, inputs (`name=value;name=value`, a list has spaces), expected, unit, tolerance,
why_tolerance, source, how_read. A tolerance of `exact` compares the text. Rows may share an id when
one published example gives several numbers; together they are one test of that id. The input
`printed` holds a number that a publication got wrong and that we must not reproduce.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "vectors"
COLUMNS = [
    "id",
    "inputs",
    "expected",
    "unit",
    "tolerance",
    "why_tolerance",
    "source",
    "how_read",
]

Value = float | str | list[float]


@dataclass(frozen=True)
class Row:
    id: str
    inputs: dict[str, Value]
    expected: str
    unit: str
    tolerance: str
    why_tolerance: str
    source: str
    how_read: str


Compute = Callable[[Row], object]


def rows(topic: str) -> list[Row]:
    with (FOLDER / f"{topic}.csv").open(encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file, strict=True)
        assert reader.fieldnames == COLUMNS, f"{topic}.csv has columns {reader.fieldnames}"
        return [Row(**{**line, "inputs": _inputs(line["inputs"])}) for line in reader]


def ids(topic: str) -> list[str]:
    return list(dict.fromkeys(row.id for row in rows(topic)))


def check(topic: str, example: str, compute: dict[str, Compute]) -> None:
    """Compare every row of one example with what we compute for it."""
    for row in rows(topic):
        if row.id == example:
            compare(row, compute[example](row))


def compare(row: Row, got: object) -> None:
    if row.tolerance == "exact":
        assert str(got) == row.expected, f"{row.id}: got {got}, {row.source} has {row.expected}"
        return
    assert isinstance(got, float | int), f"{row.id} gave {got!r}"
    tolerance = float(row.tolerance)
    off = abs(got - float(row.expected))
    assert off <= tolerance, f"{row.id}: got {got} {row.unit}, {row.source} has {row.expected}"
    if "printed" in row.inputs:
        assert abs(got - row.inputs["printed"]) > tolerance, f"{row.id} repeats the printed error"


def _inputs(text: str) -> dict[str, Value]:
    pairs = (part.split("=", 1) for part in text.split(";") if part)
    return {name.strip(): _value(value.strip()) for name, value in pairs}


def _value(text: str) -> Value:
    try:
        numbers = [float(part) for part in text.split()]
    except ValueError:
        return text
    return numbers[0] if len(numbers) == 1 else numbers
