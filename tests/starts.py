"""Starts of Deskwright as a process of their own, with nothing but the settings that a test names."""

from __future__ import annotations

import contextlib
import json
import os
import pathlib
import sqlite3
import subprocess
import sys
from collections.abc import Mapping

ROOT = pathlib.Path(__file__).resolve().parents[1]
KEPT = ("PATH", "HOME", "LANG", "LC_ALL", "VIRTUAL_ENV", "PYTHONPATH", "TMPDIR")
KEY = "kq3Vx0Zr8dJm5TnWb7YhFs2LpGc9UeAi4OvRXy6MNt1BQwDjKfHzPu"  # of no house
SETTINGS = """
import json, sys
from planner import settings
print(json.dumps({name: getattr(settings, name) for name in sys.argv[1:]}))
"""
REAL = {"SECRET_KEY": KEY, "ALLOWED_HOSTS": "desk.example.com"}
DEMO = {"DESKWRIGHT_DEMO": "yes"}


def start(*words: str, data: pathlib.Path, **settings: str) -> subprocess.CompletedProcess[str]:
    """Runs Python with these words in the repository's folder."""
    bare = {name: value for name, value in os.environ.items() if name in KEPT}
    return subprocess.run(
        [sys.executable, *words],
        cwd=ROOT,
        env={**bare, "DESKWRIGHT_DATA": str(data), **settings},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


def settings_of(*names: str, data: pathlib.Path, **settings: str) -> dict:
    """What the settings say after a start with these words in the environment."""
    ran = start("-c", SETTINGS, *names, data=data, **settings)
    assert ran.returncode == 0, ran.stderr
    return json.loads(ran.stdout)


def house(
    path: pathlib.Path,
    people: Mapping[str, str] = {},
    customers: tuple[str, ...] = (),
    mark: str = "",
) -> None:
    """An embedded database with what the start looks at: people with their hashed passwords, customers, the mark."""
    with contextlib.closing(sqlite3.connect(path)) as made, made:
        made.execute("PRAGMA journal_mode=WAL")
        made.execute(
            "CREATE TABLE sites_person (id INTEGER PRIMARY KEY, email TEXT, password TEXT)"
        )
        made.execute("CREATE TABLE sites_customer (id INTEGER PRIMARY KEY, code TEXT)")
        made.executemany("INSERT INTO sites_person (email, password) VALUES (?, ?)", people.items())
        made.executemany(
            "INSERT INTO sites_customer (code) VALUES (?)", [(code,) for code in customers]
        )
        if mark:
            made.execute(
                "CREATE TABLE sites_housemark (id INTEGER PRIMARY KEY, kind TEXT, made_at TEXT, alone INT)"
            )
            made.execute(
                "INSERT INTO sites_housemark VALUES (1, ?, '2026-01-01 08:00:00', 1)", [mark]
            )
