"""The columns of the CSV: what each says, and how it is written from a record.

One row per record and product; what belongs to the record stands on each of its rows. A quantity
takes two columns, its decimal and its unit; a word (none, not applicable, not measured: why) stands
in the first of the two, and blank is blank. A cell that a spreadsheet would take for a formula
starts with an apostrophe, and so does one that starts with an apostrophe itself; reading takes one
away.

The CSV holds less than the JSON: loads, weather readings, label limits, rig, nozzles and the sealed
findings stand there alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from django.utils.functional import Promise
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy

from logbook.facts.record import ProductFacts, RecordFacts
from logbook.facts.spec import (
    Amount,
    Fact,
    Instant,
    Row,
    Statements,
    entered,
)
from logbook.records.exchange import layout, strict
from logbook.records.exchange.layout import Json
from logbook.tables.cells import guarded


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
