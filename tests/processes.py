"""Real processes at the very same moment, on the database of the test: what two workers of a house do."""

from __future__ import annotations

import os
import pathlib
import queue
import sqlite3
import subprocess
import sys
import textwrap
import threading
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
number = int(sys.argv[1])
print(flush=True)
start = float(sys.stdin.readline())
time.sleep(max(0, start - time.time()))
"""
BREATH = 0.2  # seconds between the last one being ready and the moment at which all begin


def at_once(program: str, folder: pathlib.Path, times: int = 2) -> list[str]:
    """Runs a program so many times at once and gives what each printed. ``number`` tells it which one it is, ``start``
    when all begin: each has said by then that it is loaded and connected."""
    text = HEAD + textwrap.dedent(program)
    environment = os.environ | {
        "DATABASE_URL": _database(folder),
        "DESKWRIGHT_DATA": str(folder),
        "DESKWRIGHT_DEMO": "yes",
        "DJANGO_SETTINGS_MODULE": "planner.settings",
    }
    running = [
        subprocess.Popen(
            [sys.executable, "-c", text, str(number)],
            cwd=HOME,
            env=environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for number in range(times)
    ]
    ready: queue.Queue[str] = queue.Queue()
    for process in running:
        threading.Thread(
            target=lambda one=process: ready.put(one.stdout.readline()), daemon=True
        ).start()
    for _ in running:
        ready.get(timeout=SECONDS)
    start = f"{time.time() + BREATH}\n"
    said = []
    for process in running:
        process.stdin.write(start)
        process.stdin.flush()
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
            copy.execute("PRAGMA journal_mode=WAL")  # as a house's is, from its first migration on
        return f"sqlite:///{place}"
    told = connection.settings_dict
    return (
        f"postgres://{told['USER']}:{told['PASSWORD']}@{told['HOST']}:{told['PORT']}/{told['NAME']}"
    )
