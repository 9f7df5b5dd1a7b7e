"""The layout of one record in the file, made from the facts of its seal.

`facts` is what was sealed, word for word. `application` says the content of Implementing Regulation
(EU) 2023/564 again in one place, for a reader who wants no more; it is derived from the facts, and
an import refuses a record in which the two disagree. The headings of the annex were read in German
guidance, not in the Official Journal; the authority's text prevails.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

from logbook.hashing import canonical, leaf_hash, link_hash

FORMAT = "urn:uuid:8d0c3f0e-54b1-4c0b-9c5f-1f2c7a6e4d30"
"""Names the layout, and is the `$id` of its schema; it never changes."""

VERSION = "1.1"

AREA = "area"
"""The type of use. The regulation also knows closed spaces and treated seed, which no ground rig
treats."""

Json = dict[str, Any]


def application_of(facts: Json) -> Json:
    """Return the content that the regulation asks for, of the facts of a record as JSON.

    The time of day always stands there: whether the authorisation limits it is not ours to say.
    """
    record, field, crop = facts["record"], facts["field"], facts["crop"]
    zone = ZoneInfo(field["time_zone"] if field else "UTC")
    start, end = (_at_field(record[name], zone) for name in ("started_at", "finished_at"))
    first = start or end
    return {
        "type_of_use": AREA,
        "date": first.date().isoformat() if first else None,
        "start": start.isoformat() if start else None,
        "end": end.isoformat() if end else None,
        "products": [
            {
                "name": line["name"],
                "authorisation_number": line["registration_number"],
                "dose": line["planned_rate"],
                "total_used": line["total_used"],
            }
            for line in facts["products"]
        ],
        "plot": plot_of(field) if field else None,
        "treated_size": record["treated_area"],
        "crop": crop
        and {
            "name": crop["name"],
            "eppo_code": crop["eppo_code"],
            "bbch": crop["growth_stage_bbch"],
        },
        "applicator": facts["applicator"] and _person(facts["applicator"]),
    }


def _at_field(instant: str | None, zone: ZoneInfo) -> datetime | None:
    return datetime.fromisoformat(instant).astimezone(zone) if instant else None


def _person(person: Json) -> Json:
    numbers = [licence["number"] for licence in person.get("licences", ())]
    return {"name": person["name"], "licence_numbers": numbers}


def plot_of(field: Json) -> Json:
    """Return the field as a GeoJSON Feature; its geometry is null while no boundary is drawn."""
    return {
        "type": "Feature",
        "id": field["id"],
        "geometry": right_handed(field["boundary"]) if field["boundary"] else None,
        "properties": {
            "name": field["name"],
            "place": field["place"],
            "locations": field["locations"],
        },
    }


def right_handed(shape: Mapping[str, Any]) -> Json:
    """Return the shape with its outer rings counterclockwise and its holes clockwise.

    Source: RFC 7946, section 3.1.6.
    """
    single = shape["type"] == "Polygon"
    parts = [shape["coordinates"]] if single else shape["coordinates"]
    turned = [[_turned(ring, outer=ring is part[0]) for ring in part] for part in parts]
    return {"type": shape["type"], "coordinates": turned[0] if single else turned}


def _turned(ring: Sequence[Any], *, outer: bool) -> list[Any]:
    return list(ring) if (_twice_the_area(ring) > 0) is outer else list(ring)[::-1]


def _twice_the_area(ring: Sequence[Sequence[float]]) -> float:
    """Return twice the area in square degrees, above zero where the ring runs counterclockwise."""
    total, longitude = 0.0, ring[0][0]
    for before, after in pairwise(ring):
        # The short way round, so that a ring across the antimeridian keeps its sense.
        step = (after[0] - before[0] + 180) % 360 - 180
        total += (2 * longitude + step) * (after[1] - before[1])
        longitude += step
    return total


def hashes_of(*, stated: Json, facts: Json, previous: str) -> tuple[str, str]:
    """Return the leaf and the link that a seal of these members has; see `hashing`.

    The hashed text is the RFC 8785 form of `stated` with the facts added as its member "facts".
    """
    leaf = leaf_hash(canonical({**stated, "facts": facts}))
    return leaf, link_hash(previous, leaf)
