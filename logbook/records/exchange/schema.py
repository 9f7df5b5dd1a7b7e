"""The published JSON Schema, made from the same type annotations that an import reads by.

`records.schema.json` beside this file is what `manage.py export_records --schema` prints; a test
holds the two together.
"""

from __future__ import annotations

import dataclasses
import inspect
import json
import types
import typing
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from pathlib import Path
from typing import Any

from calc.units import UNITS, convert, reference_unit
from logbook.checks.assessment import Assessment
from logbook.checks.core import Finding, Run
from logbook.facts.codec import is_needed
from logbook.facts.quantity import Absence, Answer, Quantity
from logbook.facts.record import Snapshot
from logbook.facts.spec import declared
from logbook.facts.used import Basis
from logbook.records.exchange import layout
from logbook.records.exchange.reading import DAY, DECIMAL, INSTANT, LAYOUT

FILE = Path(__file__).with_name("records.schema.json")
DIALECT = "https://json-schema.org/draft/2020-12/schema"

Json = dict[str, Any]


def schema() -> Json:
    """Return the JSON Schema (draft 2020-12) of the file."""
    defs: Json = dict(_FIXED)
    facts = _of(Snapshot, defs)
    stated = _object(
        {
            "format": {
                "type": "integer",
                "description": "The number of the seal's own layout. From 2 on it has `journal`.",
            },
            "number": {"type": "integer", "minimum": 1},
            "software": {"type": "string"},
            "sealed_at": _INSTANT,
            "signer": _object(
                {
                    **{name: {"type": "string"} for name in ("id", "name", "role")},
                    "by": {
                        "enum": ["password", "passkey"],
                        "description": "How the signer proved who it was; without it, by password.",
                    },
                },
                optional=("by",),
            ),
            "assessment": _of(Assessment, defs),
            "findings": {"type": "array", "items": _of(Finding, defs)},
            "runs": {"type": "array", "items": _of(Run, defs)},
            "explanations": {"type": "object", "additionalProperties": {"type": "string"}},
            "libraries": {
                "type": "object",
                "description": "The version of each library that was computed with, by its name.",
                "additionalProperties": {"type": "string"},
            },
            "law": {
                "type": "array",
                "items": _object({"id": {"type": "string"}, "digest": _HASH}),
                "description": "Each duty set that spoke of it, and the SHA-256 of its text.",
            },
            "keep_until": _or_null(_DAY),
            "journal": _object(
                {"number": {"type": "integer", "minimum": 0}, "link": _HASH},
                description="The end of the journal at the signing: of the chain of notices, "
                "holds, purges, access from outside and visits.",
            ),
        },
        optional=("libraries", "law", "keep_until", "journal"),
        description="All members of the sealed text but the facts.",
    )
    defs["Record"] = _object(
        {
            "id": {"type": "string", "minLength": 1, "description": "The record's id at origin."},
            "application": {"$ref": "#/$defs/Application"},
            "facts": facts,
            "loads": {
                "type": ["array", "null"],
                "description": "For each of facts.loads, in its order, the tank fill it is of: the "
                "same id in two records is the same load.",
                "items": _object({"id": {"type": "string"}, "entered_at": _INSTANT}),
            },
            "seal": {"anyOf": [{"$ref": "#/$defs/Seal"}, {"type": "null"}]},
            "superseded_by": {
                "type": ["integer", "null"],
                "description": "The number of the sealed record that corrects this one.",
            },
        }
    )
    defs["Seal"] = _object(
        {"stated": stated, **dict.fromkeys(("leaf", "previous", "link"), _HASH)},
        description="leaf = SHA-256(0x00, text) where text is the RFC 8785 form of `stated` with "
        'the facts of the record added as its member "facts"; link = SHA-256(0x01, previous, leaf) '
        "on the bytes of the two hashes.",
    )
    top = _object(
        {
            "$schema": {"type": "string", "description": "Where this schema was served."},
            "format": {"const": layout.FORMAT},
            "version": {"type": "string", "pattern": r"^1\.[0-9]+$"},
            "software": {"type": "string"},
            "exported_at": _INSTANT,
            "selection": {
                "type": "object",
                "description": "What was asked for; null is everything.",
                "properties": {
                    "day_from": _or_null(_DAY),
                    "day_to": _or_null(_DAY),
                    "customer": {"type": ["string", "null"]},
                    "field": {"type": ["string", "null"]},
                },
            },
            "records": {"type": "array", "items": {"$ref": "#/$defs/Record"}},
        },
        optional=("$schema", "software", "exported_at", "selection"),
    )
    return {
        "$schema": DIALECT,
        "$id": layout.FORMAT,
        "title": "Application records of a spray logbook",
        "description": "Signed records of applications of plant protection products, each with the "
        "facts as they were sealed. Version "
        f"{layout.VERSION}. A minor version adds members that may be absent, and words to closed "
        "lists: pass over a member that is not described here. A major version may change what a "
        "member means: refuse one that you do not know.",
        **top,
        "$defs": dict(sorted(defs.items())),
    }


def printed() -> str:
    """Return the schema as the published file has it."""
    return json.dumps(schema(), ensure_ascii=False, indent=1) + "\n"


def _object(properties: Json, *, optional: tuple[str, ...] = (), description: str = "") -> Json:
    return {
        "type": "object",
        **({"description": description} if description else {}),
        "required": [name for name in properties if name not in optional],
        "properties": properties,
    }


def _or_null(one: Json) -> Json:
    return {"anyOf": [one, {"type": "null"}]}


_DAY: Json = {"type": "string", "format": "date", "pattern": f"^{DAY.pattern}$"}
_INSTANT: Json = {"type": "string", "format": "date-time", "pattern": f"^{INSTANT.pattern}$"}
_HASH: Json = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
_ANSWER: Json = {"$ref": "#/$defs/Answer"}

_PLAIN: dict[Any, Json] = {
    str: {"type": "string"},
    int: {"type": "integer"},
    float: {"type": "number"},
    bool: {"type": "boolean"},
    Decimal: {"$ref": "#/$defs/Decimal"},
    date: _DAY,
    datetime: _INSTANT,
    Quantity: {"$ref": "#/$defs/Quantity"},
    Answer: _ANSWER,
}


def _of(kind: Any, defs: Json) -> Json:
    """Return the schema of a type; what it needs is added to `defs`."""
    if kind in _PLAIN:
        return _PLAIN[kind]
    if typing.get_origin(kind) in (types.UnionType, typing.Union):
        (inner,) = [one for one in typing.get_args(kind) if one is not types.NoneType]
        return _or_null(_of(inner, defs))
    if typing.get_origin(kind) is tuple:
        first, *rest = typing.get_args(kind)
        if rest == [...]:
            return {"type": "array", "items": _of(first, defs)}
        items = [_of(one, defs) for one in (first, *rest)]
        return {"type": "array", "prefixItems": items, "items": False, "minItems": len(items)}
    if typing.get_origin(kind) is dict:
        if typing.get_args(kind)[1] is str:
            return {"type": "object", "additionalProperties": {"type": "string"}}
        return {"$ref": "#/$defs/Geometry"}
    if not dataclasses.is_dataclass(kind):
        return {"enum": [str(word) for word in typing.cast("type[StrEnum]", kind)]}
    name = typing.cast("type", kind).__name__
    if name not in defs:
        defs[name] = {}  # Holds the place while the members are looked at.
        defs[name] = _facts(typing.cast("type", kind), defs)
    return {"$ref": f"#/$defs/{name}"}


def _facts(kind: type, defs: Json) -> Json:
    hints = typing.get_type_hints(kind)
    properties = {}
    for field in dataclasses.fields(kind):
        found = _of(hints[field.name], defs)
        if words := LAYOUT.words_of(kind, field.name):
            found = _closed(found, {"enum": list(words)})
        if told := declared(kind).get(field.name):
            found = {"description": told.meaning, **found}
        properties[field.name] = found
    optional = tuple(field.name for field in dataclasses.fields(kind) if not is_needed(field))
    meaning = (inspect.getdoc(kind) or "").partition("\n\n")[0].replace("\n", " ")
    return _object(properties, optional=optional, description=meaning)


def _closed(found: Json, allowed: Json) -> Json:
    """Return the schema of a text, or of a list that may be null, of a closed list."""
    if "anyOf" in found:
        return _or_null(_closed(found["anyOf"][0], allowed))
    return {**found, "items": allowed} if found.get("type") == "array" else allowed


def _conversions() -> Json:
    """Return for each unit its dimension and what one of it is in the reference unit."""
    found = {}
    for code, unit in UNITS.items():
        reference = reference_unit(unit.dimension)
        found[code] = {
            "dimension": unit.dimension,
            "reference": reference,
            "zero": convert(0.0, from_unit=code, to_unit=reference),
            "one": convert(1.0, from_unit=code, to_unit=reference),
        }
    return found


_RING = {
    "type": "array",
    "minItems": 4,
    "items": {"type": "array", "minItems": 2, "items": {"type": "number"}},
}
_POLYGON = {"type": "array", "minItems": 1, "items": _RING}

_FIXED: Json = {
    "Decimal": {
        "type": "string",
        "pattern": f"^{DECIMAL.pattern}$",
        "description": "A decimal number as text, every digit as entered.",
    },
    "Unit": {
        "enum": list(UNITS),
        "description": "gal, qt, pt and fl oz are of the US gallon of 231 cubic inches; the acre "
        "is the international one. x-conversion: what 0 and 1 of the unit are in the reference "
        "unit of its dimension.",
        "x-conversion": _conversions(),
    },
    "Quantity": _object(
        {"value": {"$ref": "#/$defs/Decimal"}, "unit": {"$ref": "#/$defs/Unit"}},
        description="A quantity as entered.",
    ),
    "Word": {
        "description": "An answer that is a word. Not measured carries its reason.",
        "type": "object",
        "required": ["nothing"],
        "properties": {
            "nothing": {"enum": [str(word) for word in Absence]},
            "reason": {"type": "string"},
        },
        "if": {"properties": {"nothing": {"const": "not measured"}}},
        "then": {"required": ["reason"], "properties": {"reason": {"pattern": r"\S"}}},
    },
    "Answer": {
        "description": "A quantity, a word, or null: blank, not yet said.",
        "anyOf": [{"$ref": "#/$defs/Quantity"}, {"$ref": "#/$defs/Word"}, {"type": "null"}],
    },
    "Geometry": {
        "description": "GeoJSON Polygon or MultiPolygon (RFC 7946): longitude, latitude, WGS 84.",
        "type": "object",
        "required": ["type", "coordinates"],
        "oneOf": [
            {"properties": {"type": {"const": "Polygon"}, "coordinates": _POLYGON}},
            {
                "properties": {
                    "type": {"const": "MultiPolygon"},
                    "coordinates": {"type": "array", "minItems": 1, "items": _POLYGON},
                }
            },
        ],
    },
    "Plot": _object(
        {
            "type": {"const": "Feature"},
            "id": {"type": "string"},
            "geometry": _or_null({"$ref": "#/$defs/Geometry"}),
            "properties": _object(
                {
                    "name": {"type": "string"},
                    "place": {"type": "string", "description": "ISO 3166-2."},
                    "locations": {
                        "type": "array",
                        "items": {"$ref": "#/$defs/LocationFacts"},
                        "description": "Parcel number, legal land description and the like.",
                    },
                }
            ),
        },
        description="The plot as a GeoJSON Feature, its rings by the right-hand rule.",
    ),
    "Application": _object(
        {
            "type_of_use": {"const": layout.AREA},
            "date": _or_null(_DAY),
            "start": _or_null(_INSTANT),
            "end": _or_null(_INSTANT),
            "products": {
                "type": "array",
                "items": _object(
                    {
                        "name": {"type": "string"},
                        "authorisation_number": {"type": "string"},
                        "dose": {
                            "description": "The rate used: the total over the treated area, else "
                            "the delivered rate as computed, else the planned rate.",
                            **_ANSWER,
                        },
                        "dose_basis": {
                            "description": "What the dose is known from; null where it is no "
                            "rate. Absent before version 1.2, where the dose is the planned rate.",
                            "enum": [*map(str, Basis), None],
                        },
                        "total_used": _ANSWER,
                    },
                    optional=("dose_basis",),
                ),
            },
            "plot": _or_null({"$ref": "#/$defs/Plot"}),
            "treated_size": _ANSWER,
            "crop": _or_null(
                _object(
                    {
                        "name": {"type": "string"},
                        "eppo_code": {"type": "string"},
                        "bbch": {"type": ["integer", "null"], "minimum": 0, "maximum": 99},
                    }
                )
            ),
            "applicator": _or_null(
                _object(
                    {
                        "name": {"type": "string"},
                        "licence_numbers": {"type": "array", "items": {"type": "string"}},
                    }
                )
            ),
        },
        description="The content of Implementing Regulation (EU) 2023/564, derived from the facts. "
        "Times have the offset of the clock at the field. Headings of the annex as read in German "
        "guidance; the text of the authority prevails.",
    ),
}
