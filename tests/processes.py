"""Real processes at the very same moment, on the database of the test: what two workers of a house do."""

from __future__ import annotations

import os
import pathlib
import sqlite3
import subprocess
import sys
import textwrap
import time

from django.db import connection

HOME = pathlib.Path(__file__).resolve().parent.parent
SECONDS = 90
HEAD = """
import sys, time
import django
django.setup()
from django.db import connection
connection.ensure_connection()
time.sleep(max(0, float(sys.argv[1]) - time.time()))
number = int(sys.argv[2])
"""


def at_once(program: str, folder: pathlib.Path, times: int = 2, warm_up: float = 6.0) -> list[str]:
    """Runs a program so many times at once and gives what each printed. ``number`` tells it which one it is."""
    text = HEAD + textwrap.dedent(program)
    start = str(time.time() + warm_up)
    environment = os.environ | {
        "DATABASE_URL": _database(folder),
        "DESKWRIGHT_DATA": str(folder),
        "DESKWRIGHT_DEMO": "yes",
        "DJANGO_SETTINGS_MODULE": "planner.settings",
    }
    running = [
        subprocess.Popen(
            [sys.executable, "-c", text, start, str(number)],
            cwd=HOME,
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for number in range(times)
    ]
    said = []
    for process in running:
        out, wrong = process.communicate(timeout=SECONDS)
        assert process.returncode == 0, wrong
        said.append(out.strip())
    return said


def bring_back(folder: pathlib.Path, sql: str) -> list[tuple]:
    """What stands in the database that the processes worked on."""
    if connection.vendor == "sqlite":
        with sqlite3.connect(folder / "house.sqlite3") as there:
            return there.execute(sql).fetchall()
    with connection.cursor() as cursor:
        cursor.execute(sql)
        return cursor.fetchall()


def _database(folder: pathlib.Path) -> str:
    """Where the processes find what the test has laid down. In memory nobody else could: it is written to a file."""
    if connection.vendor == "sqlite":
        place = folder / "house.sqlite3"
        connection.ensure_connection()
        with sqlite3.connect(place) as copy:
            connection.connection.backup(copy)
        return f"sqlite:///{place}"
    told = connection.settings_dict
    return (
        f"postgres://{told['USER']}:{told['PASSWORD']}@{told['HOST']}:{told['PORT']}/{told['NAME']}"
    )
