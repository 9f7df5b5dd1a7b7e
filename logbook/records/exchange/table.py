"""Reading the CSV of an export back: rows into the JSON layout, each cell named that cannot be."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from logbook.errors.exceptions import Refused
from logbook.facts.quantity import Absence
from logbook.facts.spec import Amount, Count, Fact, Instant, Statements
from logbook.records.exchange import layout, strict
from logbook.records.exchange.columns import (
    EXAMPLE,
    NAMES,
    NEEDED,
    OF_PRODUCT,
    OWN,
    columns_of,
    heading_of,
)
from logbook.records.exchange.layout import Json
from logbook.records.exchange.reading import Reader
from logbook.tables.cells import without_guard


@dataclass
class Table:
    """The records of a CSV in the JSON layout, and the cells that their members came from."""

    records: list[Json]
    origins: list[Json] = dataclasses.field(default_factory=list)  # where each was sealed
    cells: dict[str, str] = dataclasses.field(default_factory=dict)  # path in the JSON -> cell

    def place(self, path: str) -> str:
        """Return the cell that a path of the JSON layout stands in, or else its row."""
        if not path.startswith("$"):
            return path
        # The row of the record stands under "$.records[0]", so this comes to an end.
        while path not in self.cells:
            path = path[: max(path.rfind("."), path.rfind("["))]
        return self.cells[path]


def table_of(text: str, reader: Reader) -> Table:
    """Return the records of a CSV text; cells that cannot be read are noted by `reader`.

    Raises: Refused if it is no CSV, or not of these columns.
    """
    (_first, head), *body = strict.csv_rows(text) or [(1, [])]
    _check_head(head, reader)
    groups: dict[str, list[tuple[int, dict[str, str]]]] = {}
    for line, cells in body:
        if len(cells) != len(head):
            why = _("%(cells)d cells, not %(head)d.") % {"cells": len(cells), "head": len(head)}
            reader.refuse(_row(line), None, why, absent=True)
            continue
        row = {name: without_guard(cell) for name, cell in zip(head, cells, strict=True)}
        row = {name: row.get(name, "") for name in NAMES}
        if row["record_id"] == EXAMPLE["record_id"]:
            continue  # The example row of the template.
        if not row["record_id"]:
            why = _("the id of the record is needed.")
            reader.refuse(_at(line, "record_id"), "", why, which=_which(row))
            continue
        groups.setdefault(row["record_id"], []).append((line, row))
    table = Table(records=[])
    for number, rows in enumerate(groups.values()):
        _Rows(table, rows, reader, f"$.records[{number}]").add()
    return table


def _which(row: dict[str, str]) -> str:
    """Return the record of a row as people know it: its customer and field."""
    return ", ".join(filter(None, (row["customer"][:80], row["field"][:80])))


def _row(line: int) -> str:
    return _("row %(row)d") % {"row": line}


def _at(line: int, *names: str) -> str:
    """Return the place of a cell, or of two that are read together."""
    if len(names) == 1:
        return _("row %(row)d, column %(name)s") % {"row": line, "name": names[0]}
    first, second = names
    return _("row %(row)d, columns %(first)s and %(second)s") % {
        "row": line,
        "first": first,
        "second": second,
    }


def _check_head(head: list[str], reader: Reader) -> None:
    lacking = [name for name in NEEDED if name not in head]
    if lacking:
        raise Refused(
            _(
                "This is neither the JSON nor the CSV of an export: its first row has no column "
                "%(names)s."
            )
            % {"names": ", ".join(lacking)}
        )
    twice = sorted({name for name in head if head.count(name) > 1})
    if twice:
        raise Refused(
            _("A column stands twice in the first row: %(names)s.")
            % {"names": ", ".join(twice)[:200]}
        )
    for name in head:
        if name not in NAMES:
            reader.unknown[(_("column %(name)s") % {"name": name})[:200]] = None


class _Rows:
    """The rows of one record, read into the JSON layout."""

    def __init__(
        self, table: Table, rows: list[tuple[int, dict[str, str]]], reader: Reader, at: str
    ) -> None:
        self.table, self.rows, self.reader, self.at = table, rows, reader, at
        self.line, self.row = rows[0]

    def add(self) -> None:
        """Put the record into the table."""
        row = self.row
        self._same_on_every_row()
        self.table.cells[self.at] = _row(self.line)
        if row["version"].split(".")[0] != layout.VERSION.split(".")[0]:
            self._refuse(
                "version", _("version %(version)s is read here.") % {"version": layout.VERSION}
            )
        self.table.origins.append(self._origin())
        self.table.records.append(
            {
                "id": row["record_id"],
                "application": None,
                "facts": self._facts(),
                "loads": None,
                "seal": None,
                "superseded_by": self._whole("superseded_by", "superseded_by"),
            }
        )

    def _refuse(self, column: str, allowed: str) -> None:
        at = _at(self.line, column)
        self.reader.refuse(at, self.row[column], allowed, which=_which(self.row))

    def _same_on_every_row(self) -> None:
        for line, other in self.rows[1:]:
            for name in NAMES:
                if name not in _OF_PRODUCT and other[name] != self.row[name]:
                    self.reader.refuse(
                        _at(line, name),
                        other[name],
                        _("row %(row)d of the same record says %(value)s.")
                        % {"row": self.line, "value": f"{self.row[name]!r:.60}"},
                        which=_which(other),
                    )

    def _from(self, path: str, *names: str) -> None:
        self.table.cells[f"{self.at}.{path}"] = _at(self.line, *names)

    def _fact(self, one: Fact, path: str) -> Any:
        """Return what the cells of a declared fact say, as the JSON layout has it."""
        column = heading_of(one)
        match one.kind:
            case Amount():
                return self._answer(column, path)
            case Count():
                return self._whole(column, path)
            case Instant():
                return self._text(column, path) or None
            case Statements():
                return self._object(column, path)
        return self._text(column, path)

    def _text(self, column: str, path: str) -> str:
        self._from(path, column)
        return self.row[column]

    def _whole(self, column: str, path: str) -> int | None:
        cell = self._text(column, path)
        if not cell:
            return None
        if not (cell.isascii() and cell.isdigit() and len(cell) < 10):
            self._refuse(column, _("a whole number is needed here."))
            return None
        return int(cell)

    def _answer(self, column: str, path: str) -> Json | None:
        row = self.row
        self._from(path, f"{column}_value", f"{column}_unit")
        for part in ("value", "unit"):
            self._from(f"{path}.{part}", f"{column}_{part}")
        value, unit = row[f"{column}_value"], row[f"{column}_unit"]
        word, _colon, reason = value.partition(":")
        if unit or not value:
            return {"value": value, "unit": unit} if unit else None
        if word.strip().lower() in set(Absence):
            return {"nothing": word.strip().lower(), "reason": reason.strip()}
        return {"value": value, "unit": unit}

    def _origin(self) -> Json:
        row = self.row
        return {
            "business": row["business"],
            "number": self._whole("seal_number", "seal"),
            "link": row["seal_link"],
        }

    def _facts(self) -> Json:
        row = self.row
        return {
            "business": {"id": "", "name": row["business"], "address": "", "licence_number": ""},
            "record": {
                "id": row["record_id"],
                **{name: self._fact(one, f"facts.record.{name}") for name, one in OWN.items()},
            },
            "customer": self._customer(),
            "field": self._field() if row["field"] else None,
            "crop": self._crop() if row["crop"] else None,
            "applicator": self._person("applicator"),
            "supervisor": self._person("supervisor"),
            **dict.fromkeys(("rig", "nozzle", "nozzle_mounted_on", "catch_test")),
            "products": [
                _Rows(self.table, [one], self.reader, self.at)._product(place)
                for place, one in enumerate(self.rows)
                if one[1]["product"] or len(self.rows) > 1
            ],
        }

    def _json(self, column: str, blank: Json) -> Any:
        """Return the JSON in a cell, or `blank` where it is blank or cannot be read."""
        try:
            return strict.json_value(self.row[column]) if self.row[column] else blank
        except Refused as bad:
            self._refuse(column, str(bad))
            return blank

    def _object(self, column: str, path: str) -> Json:
        self._from(path, column)
        value = self._json(column, {})
        if not isinstance(value, dict):
            self._refuse(column, _("a JSON object is needed here."))
            return {}
        return value

    def _customer(self) -> Json | None:
        row = self.row
        if not row["customer"]:
            return None
        return {
            "id": f"{row['customer']}\n{row['customer_address']}",
            "name": self._text("customer", "facts.customer.name"),
            "address": self._text("customer_address", "facts.customer.address"),
        }

    def _field(self) -> Json:
        at = "facts.field"
        plot = self._plot()
        self._from(f"{at}.boundary", "plot")
        self._from(f"{at}.locations", "plot")
        return {
            "id": "\n".join(self.row[name] for name in ("customer", "customer_address", "field")),
            "name": self._text("field", f"{at}.name"),
            "place": self._text("place", f"{at}.place"),
            "time_zone": self._text("time_zone", f"{at}.time_zone"),
            "locations": plot["properties"].get("locations", []),
            "boundary": plot.get("geometry"),
            "planted_size": self._answer("planted_size", f"{at}.planted_size"),
            **dict.fromkeys(("area_ha", "latitude", "longitude")),
        }

    def _plot(self) -> Json:
        nothing: Json = {"type": "Feature", "properties": {}}
        plot = self._json("plot", nothing)
        if (
            not isinstance(plot, dict)
            or plot.get("type") != "Feature"
            or not isinstance(plot.get("properties"), dict)
        ):
            self._refuse("plot", _("a GeoJSON Feature with its properties is needed here."))
            return nothing
        return plot

    def _crop(self) -> Json:
        at = "facts.crop"
        return {
            "name": self._text("crop", f"{at}.name"),
            "eppo_code": self._text("eppo_code", f"{at}.eppo_code"),
            "planted_on": self._text("planted_on", f"{at}.planted_on") or None,
            "growth_stage_bbch": self._whole("bbch", f"{at}.growth_stage_bbch"),
        }

    def _person(self, column: str) -> Json | None:
        name = self._text(column, f"facts.{column}.name")
        return {"id": f"person\n{name}", "name": name} if name else None

    def _product(self, place: int) -> Json:
        at, row = f"facts.products[{place}]", self.row
        self._from(at, "product")
        return {
            "product_id": f"{row['product']}\n{row['authorisation_number']}",
            "adjuvant_functions": [],
            "label": None,
            **{name: self._text(column, f"{at}.{name}") for name, column in _PRODUCT_TEXTS.items()},
            **{name: self._fact(one, f"{at}.{name}") for name, one in OF_PRODUCT.items()},
            **self._dose_as_planned(f"{at}.planned_rate"),
        }

    def _dose_as_planned(self, path: str) -> Json:
        """Return the dose as the planned rate, where nothing says that it is another.

        So it is in files before version 1.2, which have no column of their own for the plan.
        """
        row = self.row
        if row["dose_basis"] or row["planned_rate_value"] or row["planned_rate_unit"]:
            return {}
        return {"planned_rate": self._answer("dose", path)}


_PRODUCT_TEXTS = {
    "name": "product",
    "registration_number": "authorisation_number",
    "kind": "product_kind",
    "registrant": "registrant",
}
"""By name of the fact the columns of a product that are not declared with it."""
_OF_PRODUCT = frozenset(
    [
        *_PRODUCT_TEXTS.values(),
        *(column.name for column in columns_of(OF_PRODUCT.values())),
        *("dose_value", "dose_unit", "dose_basis"),
        "label_edition",
    ]
)
