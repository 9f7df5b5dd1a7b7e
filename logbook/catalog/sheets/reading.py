"""The table in a CSV or XLSX file, read by a process of its own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from logbook.tables.cells import without_guard
from logbook.uploads import read_confined, refusal_of


@dataclass(frozen=True, kw_only=True)
class Table:
    """The rows of a sheet.

    Attributes: head, the names in the first row; rows, number and cells of each that is not blank;
    notes, what the reader should know about how it was read; examples, rows passed over.
    """

    head: list[str]
    rows: list[tuple[int, list[str]]]
    notes: tuple[str, ...] = ()
    examples: int = 0


def table_of(raw: bytes) -> Table | None:
    """Return the rows of a CSV or an XLSX file; None if the file holds shapes.

    Raises: Refused, saying why it cannot be read and what can.
    """
    return gathered(read_confined("table", raw))


def gathered(lines: Iterator[Any]) -> Table | None:
    """Return the table that a reader hands over line by line; None if there is no line."""
    first = next(lines, None)
    if first is None:
        return None
    rows: list[tuple[int, list[str]]] = []
    examples = 0
    for line in lines:
        if isinstance(line, dict):
            examples = line["examples"]
        else:
            number, cells = line
            # A program that opens our CSV and saves it as a workbook keeps the apostrophe of
            # `neutral`.
            rows.append((number, list(map(without_guard, cells))))
    return Table(
        head=list(map(without_guard, first["head"])),
        rows=rows,
        notes=tuple(refusal_of(sentence, values) for sentence, values in first["notes"]),
        examples=examples,
    )
