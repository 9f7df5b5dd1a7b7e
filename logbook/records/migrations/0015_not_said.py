"""Signs of an inversion may be not said; an empty list now says that none was seen.

A box nobody touched was stored as an empty list, so what a draft holds was never an answer: it is
not said, and asked again. What is signed stays, as it was printed and sealed: "none seen"; so does
the draft of an amendment, which repeats a signed record.
"""

from typing import Any

from django.db import migrations, models


def drafts_say_nothing(apps: Any, schema_editor: Any) -> None:
    readings = apps.get_model("records", "WeatherReading").objects
    readings.using(schema_editor.connection.alias).filter(
        record__signed_at__isnull=True, record__amends__isnull=True, signs=[]
    ).update(signs=None)


class Migration(migrations.Migration):
    dependencies = [("records", "0014_the_day_a_job_began")]

    operations = [
        migrations.AlterField(
            model_name="weatherreading",
            name="signs",
            field=models.JSONField(
                blank=True, null=True, verbose_name="signs of an inversion seen"
            ),
        ),
        migrations.RunPython(drafts_say_nothing, migrations.RunPython.noop),
    ]
