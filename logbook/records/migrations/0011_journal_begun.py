"""The journal of each business is begun: what stands is taken in, row by row.

Its first entry says how many stood; whatever is written later has its own entry at once. The forms
are those of `accounts.journal` and `records.restated.beside` at the time, on their own here.
"""

from datetime import UTC, date, datetime
from uuid import UUID

from django.db import migrations
from django.utils import timezone

from logbook.hashing import NOTHING_YET, canonical, leaf_hash, link_hash

AT_ONCE = 500
KINDS = {
    "grant": ("accounts", "Grant"),
    "seal": ("records", "Seal"),
    "duty entry": ("records", "DutyEntry"),
    "hold": ("records", "LegalHold"),
    "purge": ("records", "Purge"),
    "visit": ("accounts", "Visit"),
}
LEAVES_OUT = {"seal": ("text", "purged_at")}
LEGIBLE = {"duty entry": ("id", "business_id", "created_at", "record_id")}
LISTS = {"grant": {"customers": "customer_id", "fields": "field_id"}}
RECORD = (
    *("planting_id", "nozzle_set_id", "time_zone", "book_at", "created_at", "created_by_id"),
    *("updated_at", "revision"),
)
LOAD = ("id", "rig_id", "copy_of_id", "created_at")


def plain(value):
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    return str(value) if isinstance(value, (UUID, str)) else value


def columns_of(row, names):
    return {name: plain(getattr(row, name)) for name in names}


def stated(kind, row):
    names = [one.attname for one in row._meta.concrete_fields]
    columns = columns_of(row, [one for one in names if one not in LEAVES_OUT.get(kind, ())])
    for relation, column in LISTS.get(kind, {}).items():
        columns[relation] = sorted(str(getattr(one, column)) for one in getattr(row, relation).all())
    if kind not in LEGIBLE:
        return {"row": columns}
    return {
        "row": {name: columns[name] for name in LEGIBLE[kind]},
        "columns": sorted(columns),
        "digest": leaf_hash(canonical(columns)),
    }


def beside(record):
    """Return what stands beside the text of a seal; None where the record was purged."""
    if record is None:
        return None
    products = sorted(record.products.all(), key=lambda one: (one.position, one.pk))
    uses = sorted(record.load_uses.all(), key=lambda one: (one.load.created_at, one.pk))
    return {
        "record": columns_of(record, RECORD),
        "products": [columns_of(one, ("position",)) for one in products],
        "loads": [columns_of(one.load, LOAD) for one in uses],
    }


def rows_of(apps, business, kind):
    """Yield each row of a kind with what its entry states, the oldest first, some at a time."""
    model = apps.get_model(*KINDS[kind])
    rows = model.objects.filter(business=business).order_by("created_at", "pk")
    rows = rows.defer(*LEAVES_OUT.get(kind, ())).prefetch_related(*LISTS.get(kind, {}))
    piece = []
    for row in rows.iterator(chunk_size=AT_ONCE):
        piece.append(row)
        if len(piece) == AT_ONCE:
            yield from with_what_is_stated(apps, kind, piece)
            piece = []
    yield from with_what_is_stated(apps, kind, piece)


def with_what_is_stated(apps, kind, piece):
    if kind != "seal":
        yield from ((row, stated(kind, row)) for row in piece)
        return
    records = apps.get_model("records", "ApplicationRecord").objects.only("pk", *RECORD)
    records = records.filter(pk__in=[one.record_id for one in piece])
    found = {one.pk: one for one in records.prefetch_related("products", "load_uses__load")}
    for row in piece:
        yield row, {**stated(kind, row), "beside": beside(found.get(row.record_id))}


def begin(apps, schema_editor):
    for business in apps.get_model("accounts", "Business").objects.order_by("pk"):
        begin_one(apps, business)


def begin_one(apps, business):
    Entry = apps.get_model("accounts", "JournalEntry")
    now, number, link, made = timezone.now(), 0, NOTHING_YET, []

    def write(kind, row_id, said):
        nonlocal number, link
        number += 1
        text = canonical({"kind": kind, "number": number, "at": plain(now), **said})
        leaf, previous = leaf_hash(text), link
        link = link_hash(previous, leaf)
        made.append(
            Entry(
                business=business, number=number, kind=kind, row_id=row_id, text=text, leaf=leaf,
                previous=previous, link=link,
            )
        )

    stood = sum(
        apps.get_model(*names).objects.filter(business=business).count() for names in KINDS.values()
    )
    if not stood:
        return
    write("begin", None, {"stood": stood})
    for kind in KINDS:
        for row, said in rows_of(apps, business, kind):
            write(kind, row.pk, said)
            if len(made) >= AT_ONCE:
                Entry.objects.bulk_create(made)
                made.clear()
    Entry.objects.bulk_create(made)
    apps.get_model("accounts", "Journal").objects.create(
        business=business, last_number=number, last_link=link, last_at=now
    )


class Migration(migrations.Migration):
    dependencies = [
        ("accounts", "0008_journal"),
        ("records", "0010_sealed_names"),
    ]
    operations = [migrations.RunPython(begin, migrations.RunPython.noop, elidable=False)]
