"""What is due is kept as messages, no longer as English sentences.

A sentence that stands is taken over as a message without parameters; its sheet is marked as written
by other data of the law, so that it is written anew, with parameters, when somebody looks.
"""

from typing import Any

from django.db import migrations

AT_ONCE = 500
SENTENCES = ("title", "citation", "clock", "short")


def as_messages(apps: Any, schema_editor: Any) -> None:
    sheets = apps.get_model("records", "DueSheet").objects.using(schema_editor.connection.alias)
    for sheet in sheets.exclude(items=[]).iterator(chunk_size=AT_ONCE):
        for item in sheet.items:
            for name in SENTENCES:
                if isinstance(item.get(name), str):
                    item[name] = {"text": item[name]}
        sheet.law = ""
        sheet.save(update_fields=["items", "law"])


class Migration(migrations.Migration):
    dependencies = [("records", "0012_labels_declared")]

    operations = [migrations.RunPython(as_messages, migrations.RunPython.noop)]
