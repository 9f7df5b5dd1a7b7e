"""A shelf's list as a table for a spreadsheet program."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import Any

from logbook.facts.quantity import Quantity
from logbook.localization.locale import plain_english
from logbook.quantities.columns import QuantityField
from logbook.tables.files import Cell
from logbook.web.catalog.kinds import Kind
from logbook.web.listing import Table

AT_ONCE = 500
NOT_TEXT = ("boundary", "volumes")
"""Columns that are no line of a table: a shape, and the volumes of every nozzle."""


@plain_english()
def table_of(kind: Kind, rows: Any) -> Table:
    """Return the columns of a kind's form and its rows; a quantity's unit is a column of its own.

    What hangs on a row in a list of its own (plantings, label duties, licences) is not in it.
    """
    model = rows.model
    names = [name for name in kind.form.columns() if name not in NOT_TEXT]
    measured = {n for n in names if isinstance(model._meta.get_field(n), QuantityField)}
    head: list[str] = []
    for name in names:
        label = str(kind.form.base_fields[name].label or name)
        head += [label, f"{label} unit"] if name in measured else [label]
    return head, _rows(kind, rows, names, measured)


def _rows(kind: Kind, rows: Any, names: list[str], measured: set[str]) -> Iterator[list[Cell]]:
    for row in rows.iterator(chunk_size=AT_ONCE):
        yield _line(kind, row, names, measured)


@plain_english()
def _line(kind: Kind, row: Any, names: list[str], measured: set[str]) -> list[Cell]:
    facts = {fact.name: fact for _, some in kind.form.read(row) for fact in some}
    line: list[Cell] = []
    for name in names:
        value = getattr(row, name)
        if isinstance(value, Quantity):
            line += [value.value, value.unit]
        else:
            line.append(_cell(value, facts[name].words if name in facts else ""))
            if name in measured:
                line.append(None)
    return line


def _cell(value: Any, words: str) -> Cell:
    if value is None or value == "":
        return None
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(map(str, value))
    if isinstance(value, int | Decimal | date):
        return value
    return words or str(value)
