"""The demo house in the database: typed in once by the real command, afterwards its rows are put back.

Typing it in takes seconds, and many tests only need it to be there. ``tests/sites/test_demo_house.py`` holds what is
put back against what the command makes; tests of the loading itself use the command.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import functools
import io
import pathlib
import typing

from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import connection, transaction

from sites.models import Customer, Person


@dataclasses.dataclass(frozen=True)
class Rows:
    """Every row of one table, as the database hands it out."""

    table: str
    columns: tuple[str, ...]
    rows: list[tuple]


def put_in_place() -> None:
    """The small demo house, in a database without people and customers."""
    assert not Person.objects.exists() and not Customer.objects.exists(), "there is a house already"
    kept = _kept.get(connection.vendor)
    if kept is None:
        call_command("demo", "--small", stdout=io.StringIO())
        _kept[connection.vendor] = _read(), _files()
        return
    rows, files = kept
    with transaction.atomic():
        _write(rows)
    for name, content in files.items():  # a test may have taken its proofs away
        path = pathlib.Path(settings.PROOFS) / name
        if not path.exists():
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)


_kept: dict[str, tuple[list[Rows], dict[str, bytes]]] = {}


@functools.cache
def _models() -> list[typing.Any]:
    return list(apps.get_app_config("sites").get_models(include_auto_created=True))


def _read() -> list[Rows]:
    found = []
    with connection.cursor() as cursor:
        for table in (model._meta.db_table for model in _models()):
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")
            rows = [tuple(map(_bindable, row)) for row in cursor.fetchall()]
            found.append(Rows(table, tuple(one[0] for one in cursor.description), rows))
    return [one for one in found if one.rows]


def _bindable(value: object) -> object:
    """A value as it may be handed back: the embedded database takes days and moments, but no times of day."""
    return str(value) if isinstance(value, dt.time) else value


def _write(tables: list[Rows]) -> None:
    quoted = connection.ops.quote_name
    with connection.cursor() as cursor:
        for one in tables:
            columns, places = (
                ", ".join(map(quoted, one.columns)),
                ", ".join(["%s"] * len(one.columns)),
            )
            cursor.executemany(
                f"INSERT INTO {quoted(one.table)} ({columns}) VALUES ({places})", one.rows
            )
        for statement in connection.ops.sequence_reset_sql(no_style(), _models()):
            cursor.execute(statement)


def _files() -> dict[str, bytes]:
    folder = pathlib.Path(settings.PROOFS)
    return {
        str(one.relative_to(folder)): one.read_bytes() for one in folder.rglob("*") if one.is_file()
    }
