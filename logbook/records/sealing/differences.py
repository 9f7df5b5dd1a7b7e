"""Whether the rows of a sealed record still say what was sealed.

Compared is what stands in the record's own rows: its columns, product lines, loads, weather, crew,
pictures and explanations, the names of the shelf that they keep as sealed, and to which rows of the
shelf they point; what of it the text does not say, the journal keeps. What the shelf itself says (a
customer's name, a label's numbers) may change after sealing; the seal alone says how it was.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from django.db.models import Prefetch, QuerySet

from logbook.accounts.journal import plain
from logbook.facts.codec import to_json
from logbook.facts.messages import gettext_noop
from logbook.facts.quantity import Quantity
from logbook.records.models import ApplicationRecord, LoadUse
from logbook.records.names import sealed_names
from logbook.records.sealing.snapshot import picture_facts

BESIDE: dict[str, tuple[str, ...]] = {
    "record": (
        *("planting_id", "nozzle_set_id", "time_zone", "book_at", "created_at", "created_by_id"),
        *("updated_at", "revision"),
    ),
    "products": ("position",),
    "loads": ("id", "rig_id", "copy_of_id", "created_at"),
    # The digest is sealed too; here it outlives the purge of the text and of the picture.
    "pictures": ("id", "sha256", "added_by_id", "added_at"),
}
"""Columns that no fact of the sealed text says again. The journal keeps them, also once the text is
purged: ids, times, places in an order and digests, and nothing that was written."""

POINTERS = ("customer", "field", "applicator", "supervisor", "rig")
LINE = ("planned_rate", "total_used", "target")


def rows_of_sealed(pks: Iterable[Any]) -> QuerySet[ApplicationRecord]:
    """Return the query of the records with the rows that `otherwise` looks at."""
    uses = LoadUse.objects.select_related("load").prefetch_related("load__parts")
    return (
        ApplicationRecord.objects.filter(pk__in=list(pks))
        .select_related("amends__seal")
        .prefetch_related(
            *("products", "weather", "crew", "explanations", "pictures"),
            Prefetch("load_uses", uses),
        )
    )


def beside(record: ApplicationRecord) -> dict[str, Any]:
    """Return the columns of `BESIDE`, as the journal keeps them with the seal of the record."""

    def columns(row: Any, name: str) -> dict[str, Any]:
        return {column: plain(getattr(row, column)) for column in BESIDE[name]}

    return {
        "record": columns(record, "record"),
        "products": [columns(line, "products") for line in record.products.all()],
        "loads": [columns(use.load, "loads") for use in record.load_uses.all()],
        "pictures": [columns(picture, "pictures") for picture in record.pictures.all()],
    }


def differences_beside(record: ApplicationRecord, kept: dict[str, Any]) -> Iterator[str]:
    """Yield the name of each column of `BESIDE` that says otherwise than the journal keeps it.

    Args: kept, as `beside` gave it when the record was sealed, or the journal begun.
    """
    now = beside(record)
    for name, value in kept["record"].items():
        if now["record"].get(name) != value:
            yield name.removesuffix("_id")
    for name in ("products", "loads", "pictures"):
        rows = kept.get(name, [])  # of before there were pictures
        pairs = zip(now[name], rows, strict=False)
        same = all(row.get(key) == then[key] for row, then in pairs for key in then)
        if len(now[name]) != len(rows) or not same:
            yield name


def differences(record: ApplicationRecord, content: dict[str, Any]) -> Iterator[str]:
    """Yield the name of each thing that the rows say otherwise than the sealed text.

    Args: content, the sealed text, read. Only what it names is compared: a seal of an older form
    knows less.
    """
    facts = content["facts"]
    for name, sealed in facts["record"].items():
        if _column(record, name) != sealed:
            yield name
    for name in POINTERS:
        if name in facts and _key(facts[name]) != _text(getattr(record, f"{name}_id")):
            yield name
    for column, sealed in sealed_names(facts).items():
        if getattr(record, column) != sealed:
            yield column.removeprefix("sealed_")
    crop = facts["crop"]
    if (crop is None) != (record.planting_id is None):
        yield gettext_noop("crop")
    if crop is not None and crop["growth_stage_bbch"] != record.growth_stage:
        yield gettext_noop("growth stage")
    if (facts["nozzle"] is None) != (record.nozzle_set_id is None):
        yield gettext_noop("nozzles")
    yield from _of_the_lines(record, facts)
    yield from _of_other_records(record, facts)
    said = {one.finding: one.text for one in record.explanations.all()}
    if said != content["explanations"]:
        yield gettext_noop("explanations")


def _of_the_lines(record: ApplicationRecord, facts: dict[str, Any]) -> Iterator[str]:
    products = [
        {
            "product_id": str(line.product_id),
            "name": line.sealed_product,
            "label": _text(line.label_id),
            **{name: _column(line, name) for name in LINE},
        }
        for line in record.products.all()
    ]
    sealed_products = [
        {
            "product_id": line["product_id"],
            "name": line["name"],
            "label": _key(line["label"]),
            **{name: line[name] for name in LINE},
        }
        for line in facts["products"]
    ]
    if products != sealed_products:
        yield gettext_noop("products")
    loads = [
        {
            "order": use.order,
            "mixed_volume": _column(use.load, "mixed_volume"),
            "used_here": _column(use, "used"),
            "parts": [
                {"product_id": str(part.product_id), "amount": _column(part, "amount")}
                for part in use.load.parts.all()
            ],
        }
        for use in record.load_uses.all()
    ]
    # With whom a load is shared may change: a later record can use what is left in the tank.
    others = ("shared", "places_elsewhere")
    if loads != [{key: load[key] for key in load if key not in others} for load in facts["loads"]]:
        yield gettext_noop("loads")
    readings = list(record.weather.all())
    same = len(readings) == len(facts["weather"]) and all(
        _column(reading, name) == value
        for reading, sealed in zip(readings, facts["weather"], strict=True)
        for name, value in sealed.items()
    )
    if not same:
        yield gettext_noop("weather")
    pictures = [to_json(picture_facts(one)) for one in record.pictures.all()]
    if pictures != facts.get("pictures", []):
        yield gettext_noop("pictures")
    # In the order of names, which may change on the shelf.
    if "crew" in facts:
        crew = sorted(str(member.person_id) for member in record.crew.all())
        if crew != sorted(person["id"] for person in facts["crew"]):
            yield gettext_noop("crew")


def _of_other_records(record: ApplicationRecord, facts: dict[str, Any]) -> Iterator[str]:
    amends = record.amends
    said = amends and (amends.seal.number, amends.seal.link, record.amend_reason)
    sealed = facts["amends"]
    if said != (sealed and (sealed["number"], sealed["seal_sha256"], sealed["reason"])):
        yield gettext_noop("amends")
    if "continues" in facts and _key(facts["continues"]) != _text(record.continues_id):
        yield gettext_noop("continues")


def _column(row: Any, name: str) -> Any:
    """Return what a column says, as a seal writes it; None where its reference value differs."""
    value = getattr(row, name)
    if isinstance(value, Quantity) and getattr(row, f"{name}_si") != value.si:
        return None
    return str(value) if name == "id" else to_json(value)


def _key(sealed: dict[str, Any] | None) -> str | None:
    return None if sealed is None else str(sealed["id"])


def _text(pk: Any) -> str | None:
    return None if pk is None else str(pk)
