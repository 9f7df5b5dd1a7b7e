"""Keeps the names of each sealed record beside it, for lists and search.

Read from the sealed text; a purged seal has none any more and no record. One whose text cannot be
read, or does not fit the lines of its record, says so in `verify_log`; its lists show the shelf.
"""

import json
import uuid
from typing import Any

import django.db.models.deletion
from django.db import migrations, models

AT_ONCE = 200
NAMED = ("customer", "field", "crop", "applicator", "rig")
FROZEN = ("records_applicationrecord", "records_productline")


def keep(apps: Any, schema_editor: Any) -> None:
    def rows_of(name: str) -> Any:
        return apps.get_model("records", name).objects.using(schema_editor.connection.alias)

    postgresql = schema_editor.connection.vendor == "postgresql"
    if postgresql:
        # What freezes records refuses this, too. SQLite's triggers are off in every migrate.
        for table in FROZEN:
            schema_editor.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
    seals = rows_of("Seal").filter(purged_at__isnull=True, record__signed_at__isnull=False)
    seals = seals.order_by("pk").select_related("record")
    after: dict[str, Any] = {}
    while some := list(seals.filter(**after)[:AT_ONCE]):
        after = {"pk__gt": some[-1].pk}
        lines: dict[Any, list[Any]] = {seal.record_id: [] for seal in some}
        for line in rows_of("ProductLine").filter(record__in=list(lines)).order_by("position", "id"):
            lines[line.record_id].append(line)
        told = [seal for seal in some if named(seal, lines[seal.record_id])]
        records = [seal.record for seal in told]
        rows_of("ApplicationRecord").bulk_update(records, [f"sealed_{name}" for name in NAMED])
        changed = [line for seal in told for line in lines[seal.record_id]]
        rows_of("ProductLine").bulk_update(changed, ["sealed_product"])
        kept = {key for seal in told for key in searched(seal, lines[seal.record_id])}
        made = apps.get_model("records", "SealedName")
        rows_of("SealedName").bulk_create(
            (made(business_id=business, of=of, name=name) for business, of, name in sorted(kept)),
            ignore_conflicts=True,
        )
    if postgresql:
        for table in FROZEN:
            schema_editor.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")


def named(seal: Any, lines: list[Any]) -> bool:
    """Set the names of a record and its lines; whether its text can be read."""
    try:
        facts = json.loads(seal.text)["facts"]
        names = {name: (facts.get(name) or {}).get("name") for name in NAMED}
        products = [(one["product_id"], one["name"]) for one in facts["products"]]
        if [of for of, _name in products] != [str(line.product_id) for line in lines]:
            return False
    except (ValueError, TypeError, LookupError, AttributeError):
        return False
    if not all(name is None or isinstance(name, str) for name in names.values()):
        return False
    for name, text in names.items():
        setattr(seal.record, f"sealed_{name}", text)
    for line, (_of, text) in zip(lines, products, strict=True):
        line.sealed_product = text
    return True


def searched(seal: Any, lines: list[Any]) -> list[tuple[Any, Any, str]]:
    """Return business, row of the shelf and name, of what the search looks for."""
    record = seal.record
    found = [(record.customer_id, record.sealed_customer), (record.field_id, record.sealed_field)]
    found += [(line.product_id, line.sealed_product) for line in lines]
    return [(seal.business_id, of, name) for of, name in found if of and name]


class Migration(migrations.Migration):

    dependencies = [
        ('accounts', '0006_offers'),
        ('records', '0009_bounds_that_can_be_computed'),
    ]

    operations = [
        migrations.AddField(
            model_name='applicationrecord',
            name='sealed_applicator',
            field=models.CharField(editable=False, max_length=200, null=True),
        ),
        migrations.AddField(
            model_name='applicationrecord',
            name='sealed_crop',
            field=models.CharField(editable=False, max_length=200, null=True),
        ),
        migrations.AddField(
            model_name='applicationrecord',
            name='sealed_customer',
            field=models.CharField(editable=False, max_length=200, null=True),
        ),
        migrations.AddField(
            model_name='applicationrecord',
            name='sealed_field',
            field=models.CharField(editable=False, max_length=200, null=True),
        ),
        migrations.AddField(
            model_name='applicationrecord',
            name='sealed_rig',
            field=models.CharField(editable=False, max_length=200, null=True),
        ),
        migrations.AddField(
            model_name='productline',
            name='sealed_product',
            field=models.CharField(editable=False, max_length=200, null=True),
        ),
        migrations.CreateModel(
            name='SealedName',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('of', models.UUIDField()),
                ('name', models.CharField(max_length=200)),
                ('business', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='accounts.business')),
            ],
            options={
                'abstract': False,
                'constraints': [models.UniqueConstraint(fields=('business', 'of', 'name'), name='sealed_name_once')],
            },
        ),
        migrations.RunPython(keep, migrations.RunPython.noop),
    ]
