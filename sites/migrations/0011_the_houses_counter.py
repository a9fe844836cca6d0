"""A counter of the house, for what it changes in the plans of all sites."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("sites", "0010_one_standing_acceptance")]
    operations = [
        migrations.CreateModel(
            name="HouseCounter",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("count", models.PositiveBigIntegerField(default=0)),
                ("alone", models.BooleanField(default=True, editable=False, unique=True)),
            ],
        ),
    ]
