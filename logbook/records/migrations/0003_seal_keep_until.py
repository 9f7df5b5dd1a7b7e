from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('records', '0002_duties'),
    ]

    operations = [
        migrations.AddField(
            model_name='seal',
            name='keep_until',
            field=models.DateField(editable=False, null=True),
        ),
    ]
