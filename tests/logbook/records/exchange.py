"""What the exchange tests share: files of records, and facts without what differs by nature."""

from __future__ import annotations

import copy
import csv
import io
import json
from datetime import UTC, datetime
from typing import Any

from logbook.records.exchange.export import Selection, csv_pieces, json_pieces
from logbook.records.exchange.importing import BY_COMMAND, ImportReport, import_records
from logbook.records.exchange.layout import hashes_of
from tests import factories as make

EXPORTED = datetime(2026, 12, 1, 8, 0, tzinfo=UTC)


def exported(actor: Any, **narrowed: Any) -> dict[str, Any]:
    """Return the JSON file of the actor's business, parsed."""
    pieces = json_pieces(
        actor=actor, selection=Selection(**narrowed), now=EXPORTED, schema_url="schema"
    )
    found: dict[str, Any] = json.loads("".join(pieces))
    return found


def exported_csv(actor: Any, **narrowed: Any) -> str:
    """Return the CSV file of the actor's business."""
    return "".join(csv_pieces(actor=actor, selection=Selection(**narrowed)))


def cells(text: str) -> list[dict[str, str]]:
    """Return the rows of a CSV by column."""
    return list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"), newline="")))


def as_csv(rows: list[dict[str, str]]) -> str:
    """Return the CSV of rows by column."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def bring_in(actor: Any, file: Any, *, write: bool = True) -> ImportReport:
    """Import a file given as JSON value, text or bytes."""
    if isinstance(file, str):
        file = file.encode()
    if not isinstance(file, bytes):
        file = json.dumps(file).encode()
    return import_records(actor=actor, raw=file, write=write, limits=BY_COMMAND)


def member_of_new_business(name: str = "Far Furrow Spraying", role: str = "owner") -> Any:
    """Return a member of an empty business."""
    from logbook.accounts.services import actor_for

    business = make.BusinessFactory(name=name, licence_number="B-1200")
    user = make.UserFactory(name=f"{role} of {name}")
    make.MembershipFactory(user=user, business=business, role=role)
    return actor_for(user, business_id=business.pk)


def unsealed(file: dict[str, Any]) -> dict[str, Any]:
    """Return the file as another program writes it, which has no seals: it may be changed."""
    found = copy.deepcopy(file)
    for record in found["records"]:
        record["seal"] = None
    return found


def resealed(file: dict[str, Any]) -> dict[str, Any]:
    """Return the file with seals that fit what the facts were changed to."""
    found = copy.deepcopy(file)
    for record in found["records"]:
        seal = record["seal"]
        seal["leaf"], seal["link"] = hashes_of(
            stated=seal["stated"], facts=record["facts"], previous=seal["previous"]
        )
    return found


def told(report: ImportReport) -> str:
    """Return the problems of a report, line by line."""
    return "\n".join(map(str, report.problems))


def by_name(facts: dict[str, Any]) -> dict[str, Any]:
    """Return the facts without ids and business; a product is called by its name.

    What speaks of other seals of the origin (amends, earlier, continues) is left out as well.
    """
    names = {line["product_id"]: line["name"] for line in facts["products"]}
    without = ("business", "amends", "earlier", "continues")
    found: dict[str, Any] = _without_ids(
        {name: value for name, value in facts.items() if name not in without}, names
    )
    return found


def _without_ids(value: Any, names: dict[str, str]) -> Any:
    if isinstance(value, dict):
        return {
            name: names[item] if name == "product_id" else _without_ids(item, names)
            for name, item in value.items()
            if name != "id"
        }
    if isinstance(value, list):
        return [_without_ids(item, names) for item in value]
    return value
