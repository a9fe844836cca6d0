"""Of one finding at most one acceptance stands; of several that came at the same moment, the newest."""

from django.db import migrations, models
from django.db.models import F


def older_ones_give_way(apps, schema_editor):
    Acceptance = apps.get_model("sites", "Acceptance")
    seen = set()
    for one in Acceptance.objects.filter(withdrawn_at=None).order_by("-at", "-pk"):
        told = one.site_id, one.finding
        if told in seen:
            Acceptance.objects.filter(pk=one.pk).update(withdrawn_at=F("at"))
        seen.add(told)


class Migration(migrations.Migration):
    dependencies = [("sites", "0009_one_door")]
    operations = [
        migrations.RunPython(older_ones_give_way, migrations.RunPython.noop),
        migrations.AddConstraint(
            model_name="acceptance",
            constraint=models.UniqueConstraint(
                condition=models.Q(withdrawn_at=None),
                fields=("site", "finding"),
                name="one_standing_acceptance_of_a_finding",
            ),
        ),
    ]
