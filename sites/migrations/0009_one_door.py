"""The table of counters; what the second front door left behind goes; no address counts as proven yet."""

from django.core.management import call_command
from django.db import migrations

COUNTERS = "deskwright_counters"


def make_counters(apps, schema_editor):
    call_command("createcachetable", COUNTERS, database=schema_editor.connection.alias, verbosity=0)


def drop_counters(apps, schema_editor):
    schema_editor.execute(f"DROP TABLE IF EXISTS {COUNTERS}")


def forget_unproven(apps, schema_editor):
    """Anybody signed in could add any address here, and nobody ever proved one."""
    apps.get_model("account", "EmailAddress").objects.all().delete()


class Migration(migrations.Migration):
    dependencies = [
        ("sites", "0008_the_front_door"),
        ("account", "0009_emailaddress_unique_primary_email"),
        ("usersessions", "0001_initial"),
    ]
    operations = [
        migrations.RunPython(make_counters, drop_counters),
        migrations.RunPython(forget_unproven, migrations.RunPython.noop),
        # The admin's log points at people: left behind, it would keep them from being removed.
        migrations.RunSQL("DROP TABLE IF EXISTS django_admin_log", migrations.RunSQL.noop),
        migrations.RunSQL("DELETE FROM django_migrations WHERE app = 'admin'", migrations.RunSQL.noop),
    ]
