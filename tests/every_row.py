"""What the whole database holds, to be held against what it held before."""

from __future__ import annotations

from django.apps import apps
from django.db import connection


def snapshot(but: tuple[str, ...] = ()) -> dict[str, list[str]]:
    """Every row of every table, history and counters too; ``but`` are names of models that do not count."""
    found = {}
    with connection.cursor() as cursor:
        for model in apps.get_models(include_auto_created=True):
            if model.__name__ not in but:
                table = connection.ops.quote_name(model._meta.db_table)
                cursor.execute(f"SELECT * FROM {table} ORDER BY 1")
                found[model._meta.db_table] = [repr(row) for row in cursor.fetchall()]
    return found
