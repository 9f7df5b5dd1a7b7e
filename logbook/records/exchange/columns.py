"""The columns of the CSV: what each says, how it is written from a record and read back.

One row per record and product; what belongs to the record stands on each of its rows. A quantity
takes two columns, its decimal and its unit; a word (none, not applicable, not measured: why) stands
in the first of the two, and blank is blank. A cell that a spreadsheet would take for a formula
starts with an apostrophe, and so does one that starts with an apostrophe itself; reading takes one
away.

The CSV holds less than the JSON: loads, weather readings, label limits, rig, nozzles and the sealed
findings stand there alone.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from django.utils.functional import Promise
from django.utils.text import format_lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from logbook.errors.exceptions import Refused
from logbook.facts.quantity import Absence
from logbook.facts.record import ProductFacts, RecordFacts
from logbook.facts.spec import (
    Amount,
    Count,
    Fact,
    Instant,
    Row,
    Statements,
    entered,
)
from logbook.records.exchange import layout, strict
from logbook.records.exchange.layout import Json
from logbook.records.exchange.reading import Reader
from logbook.tables.cells import guarded, without_guard


@dataclass(frozen=True)
class Column:
    """One column: its name in the head of the file, and what stands in it."""

    name: str
    meaning: str | Promise


def _pair(name: str, meaning: str | Promise) -> tuple[Column, Column]:
    return (
        Column(
            f"{name}_value",
            format_lazy(gettext_lazy("{meaning}: the decimal, or a word."), meaning=meaning),
        ),
        Column(f"{name}_unit", format_lazy(gettext_lazy("{meaning}: the unit."), meaning=meaning)),
    )


HEADINGS = {
    "started_at": "start",
    "finished_at": "end",
    "treated_area": "treated_size",
    "growth_stage_bbch": "bbch",
}
"""Columns that have the name that Implementing Regulation (EU) 2023/564 gives the fact."""

OWN = entered(RecordFacts)
OF_PRODUCT = {
    name: one for name, one in entered(ProductFacts).items() if not isinstance(one.kind, Row)
}


def heading_of(one: Fact) -> str:
    """Return the name of a fact's column, or what the names of its two begin with."""
    return HEADINGS.get(one.name, one.name)


def columns_of(facts: Iterable[Fact]) -> Iterator[Column]:
    """Yield the columns of facts, two for a quantity."""
    for one in facts:
        meaning = format_lazy("{label}", label=gettext_lazy(one.label))
        if isinstance(one.kind, Amount):
            yield from _pair(heading_of(one), meaning)
        else:
            yield Column(heading_of(one), format_lazy("{meaning}.", meaning=meaning))


def _in_front(*names: str) -> Iterator[Column]:
    return columns_of(OWN[name] for name in names)


_TREATED = ("treated_area",)
_BESIDE = ("started_at", "finished_at", "statements", "note", *_TREATED)
"""Facts of the record that stand elsewhere in the row than the others."""

COLUMNS: tuple[Column, ...] = (
    Column(
        "version",
        format_lazy(gettext_lazy("Version of these columns, {version}."), version=layout.VERSION),
    ),
    Column(
        "record_id",
        gettext_lazy("The id of the record at the origin; it joins the rows of one record."),
    ),
    Column("seal_number", gettext_lazy("The number of the seal in the log of the origin.")),
    Column("seal_link", gettext_lazy("The link hash of the seal, hexadecimal.")),
    Column("sealed_at", gettext_lazy("When it was sealed, ISO 8601.")),
    Column("superseded_by", gettext_lazy("The number of the record that corrects this one.")),
    Column("business", gettext_lazy("Who did the work for hire.")),
    Column("type_of_use", gettext_lazy("area: a ground rig treats areas alone.")),
    Column("date", gettext_lazy("Local day at the field on which the work began, ISO 8601.")),
    Column("start", gettext_lazy("Start, with the offset at the field, ISO 8601.")),
    Column("end", gettext_lazy("End, with the offset at the field, ISO 8601.")),
    Column("customer", gettext_lazy("For whom the work was done.")),
    Column("customer_address", gettext_lazy("The address of the customer.")),
    Column("field", gettext_lazy("The name of the field.")),
    Column("place", gettext_lazy("State or province of the field, ISO 3166-2.")),
    Column("time_zone", gettext_lazy("Time zone at the field, by its IANA name.")),
    Column(
        "plot",
        gettext_lazy("The plot with its geodata and locations: a GeoJSON Feature (RFC 7946)."),
    ),
    *_pair("planted_size", gettext_lazy("Planted size of the field")),
    Column("crop", gettext_lazy("The crop.")),
    Column("eppo_code", gettext_lazy("EPPO code of the crop.")),
    Column("planted_on", gettext_lazy("Day of planting, ISO 8601.")),
    Column("bbch", gettext_lazy("BBCH growth stage, 0 to 99.")),
    Column("applicator", gettext_lazy("Who sprayed.")),
    Column(
        "applicator_licences", gettext_lazy("Numbers of the applicator's licences; not read back.")
    ),
    Column("supervisor", gettext_lazy("Who answered for a helper's work.")),
    *_in_front(*_TREATED),
    Column("product", gettext_lazy("Name of the product.")),
    Column(
        "authorisation_number", gettext_lazy("Registration or authorisation number of the product.")
    ),
    Column("product_kind", gettext_lazy("Kind of product.")),
    Column("registrant", gettext_lazy("Company on the label.")),
    Column(
        "label_edition", gettext_lazy("Edition of the label in force on the day; not read back.")
    ),
    *_pair("dose", gettext_lazy("Rate used: total over area, or as the next column says")),
    Column(
        "dose_basis",
        gettext_lazy(
            "What the dose is known from: total, delivered (computed) or planned; not read back. "
            "Where it is blank, the dose is read as the planned rate."
        ),
    ),
    *columns_of(OF_PRODUCT.values()),
    *columns_of(one for name, one in OWN.items() if name not in _BESIDE),
    Column("rig", gettext_lazy("Name of the rig; not read back.")),
    Column("nozzles", gettext_lazy("Name of the nozzles; not read back.")),
    *_in_front("note"),
    Column(
        "crew",
        gettext_lazy("Who sprayed beside the applicator, with licences; not read back."),
    ),
    Column(
        "statements",
        gettext_lazy("What a law or label asks to be stated: JSON, by name of the element."),
    ),
)

EXAMPLE = {
    "version": layout.VERSION,
    "record_id": "EXAMPLE-1",
    "business": "Earlier book",
    "type_of_use": "area",
    "start": "2026-06-12T09:30:00-05:00",
    "end": "2026-06-12T12:00:00-05:00",
    "customer": "Flat Creek Farm",
    "customer_address": "12 Section Road, Stillwater Flats",
    "field": "North quarter",
    "place": "US-ND",
    "time_zone": "America/Chicago",
    "crop": "soybeans",
    "treated_size_value": "125.0",
    "treated_size_unit": "ac",
    "product": "Leafkill 4",
    "product_kind": "foliar herbicide",
    "planned_rate_value": "22",
    "planned_rate_unit": "fl oz/ac",
    "pattern": "broadcast",
}
"""The example row of the template; reading passes it over."""

NAMES = tuple(column.name for column in COLUMNS)

NEEDED = ("version", "record_id", "business", "product", "start")
"""A file without these is not one of ours."""


# --- out -----------------------------------------------------------------------------------------


def rows_of(record: Json) -> Iterator[list[str]]:
    """Yield the rows of one record of the JSON layout, in the order of `COLUMNS`."""
    products, doses = record["facts"]["products"], record["application"]["products"]
    lines = [_product_cells(*pair) for pair in zip(products, doses, strict=True)]
    for line in lines or [{}]:
        cells = {**_record_cells(record), **line}
        yield [guarded(cells.get(name, "")) for name in NAMES]


def _record_cells(record: Json) -> dict[str, str]:
    facts, application = record["facts"], record["application"]
    own, field, crop = facts["record"], facts["field"], facts["crop"]
    seal = record["seal"]["stated"]
    cells = {
        "version": layout.VERSION,
        "record_id": record["id"],
        "seal_number": str(seal["number"]),
        "seal_link": record["seal"]["link"],
        "sealed_at": seal["sealed_at"],
        "superseded_by": _cell(record["superseded_by"]),
        "business": facts["business"]["name"],
        **{name: _cell(application[name]) for name in ("type_of_use", "date", "start", "end")},
        "applicator": _name(facts["applicator"]),
        "applicator_licences": "; ".join((application["applicator"] or _NOBODY)["licence_numbers"]),
        "supervisor": _name(facts["supervisor"]),
        "rig": _name(facts["rig"]),
        "nozzles": _name(facts["nozzle"]),
        "crew": "; ".join(_with_licences(person) for person in facts.get("crew", ())),
        "statements": strict.compact(own["statements"]) if own.get("statements") else "",
    }
    for one in OWN.values():
        if not isinstance(one.kind, Instant | Statements):
            cells |= _fact_cells(one, own[one.name])
    if facts["customer"]:
        cells |= {
            "customer": facts["customer"]["name"],
            "customer_address": facts["customer"]["address"],
        }
    if field:
        cells |= {
            "field": field["name"],
            "place": field["place"],
            "time_zone": field["time_zone"],
            "plot": strict.compact(application["plot"]),
            **_answer_cells("planted_size", field["planted_size"]),
        }
    if crop:
        cells |= {
            "crop": crop["name"],
            "eppo_code": crop["eppo_code"],
            "planted_on": _cell(crop["planted_on"]),
            "bbch": _cell(crop["growth_stage_bbch"]),
        }
    return cells


_NOBODY: Json = {"licence_numbers": []}


def _product_cells(product: Json, application: Json) -> dict[str, str]:
    return {
        **_answer_cells("dose", application["dose"]),
        "dose_basis": _cell(application["dose_basis"]),
        "product": product["name"],
        "authorisation_number": product["registration_number"],
        "product_kind": product["kind"],
        "registrant": product["registrant"],
        "label_edition": product["label"]["edition"] if product["label"] else "",
        **{
            name: cell
            for one in OF_PRODUCT.values()
            for name, cell in _fact_cells(one, product[one.name]).items()
        },
    }


def _with_licences(person: Json) -> str:
    numbers = ", ".join(licence["number"] for licence in person.get("licences", ()))
    return f"{person['name']} ({numbers})" if numbers else str(person["name"])


def _fact_cells(one: Fact, value: Any) -> dict[str, str]:
    if isinstance(one.kind, Amount):
        return _answer_cells(heading_of(one), value)
    return {heading_of(one): _cell(value)}


def _name(row: Json | None) -> str:
    return str(row["name"]) if row else ""


def _cell(value: Any) -> str:
    return "" if value is None else str(value)


def _answer_cells(name: str, answer: Json | None) -> dict[str, str]:
    value, unit = "", ""
    if answer and "unit" in answer:
        value, unit = answer["value"], answer["unit"]
    elif answer:
        value = ": ".join(part for part in (answer["nothing"], answer["reason"]) if part)
    return {f"{name}_value": value, f"{name}_unit": unit}


# --- in ------------------------------------------------------------------------------------------


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
