"""Counts what each seal holds of mismatches, missing facts and findings without explanation.

Read from the sealed text; a purged seal has none any more, and one whose text cannot be read says
so in `verify_log`: theirs stay unknown.
"""

import json
from typing import Any

from django.db import migrations, models

AT_ONCE = 500


def count(apps: Any, schema_editor: Any) -> None:
    seals = apps.get_model("records", "Seal").objects.using(schema_editor.connection.alias)
    postgresql = schema_editor.connection.vendor == "postgresql"
    if postgresql:
        # What freezes seals refuses this, too. SQLite's triggers are off in every migrate.
        schema_editor.execute("ALTER TABLE records_seal DISABLE TRIGGER USER")
    rows = seals.filter(purged_at__isnull=True).order_by("pk").only("pk", "text")
    after: dict[str, Any] = {}
    while some := list(rows.filter(**after)[:AT_ONCE]):
        after = {"pk__gt": some[-1].pk}
        seals.bulk_update(filter(counted, some), ["mismatches", "missing", "unexplained"])
    if postgresql:
        schema_editor.execute("ALTER TABLE records_seal ENABLE TRIGGER USER")


def counted(seal: Any) -> bool:
    """Set the counts of a seal; whether its text can be read."""
    try:
        content = json.loads(seal.text)
        found, said = content["findings"], content["explanations"]
        weights = [one["severity"] for one in found]
        keys = [f"{one['code']}@{one['about']}" for one in found]
        seal.mismatches, seal.missing = weights.count("mismatch"), weights.count("missing")
        seal.unexplained = sum(key not in said for key in keys)
    except (ValueError, TypeError, LookupError):
        return False
    return True


class Migration(migrations.Migration):
    dependencies = [("records", "0006_lists")]

    operations = [
        *(
            migrations.AddField(
                model_name="seal",
                name=name,
                field=models.PositiveSmallIntegerField(editable=False, null=True),
            )
            for name in ("mismatches", "missing", "unexplained")
        ),
        migrations.RunPython(count, migrations.RunPython.noop),
        *(
            migrations.AddIndex(
                model_name="seal",
                index=models.Index(fields=["business", name], name=f"seal_by_{name}"),
            )
            for name in ("mismatches", "missing", "unexplained")
        ),
    ]
