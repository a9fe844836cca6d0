"""Nothing acknowledged is lost at a cut of power, as far as it can be tried without cutting it.

The app writes to the embedded database and its folder of proofs; ``strace`` records every call. The record is
replayed on a disk that forgets what was not synced, and the power is cut after every call that changes or syncs
something: once so that all is lost that may be lost, and some times so that any part of it is there.
"""

from __future__ import annotations

import hashlib
import pathlib
import random
import shutil
import sqlite3
import subprocess
import sys

import pytest

from tests.kills.forgetful import CALLS, Call, Disk, calls
from tests.kills.house import HERE, House
from tests.programs import program
from tests.shares import share

CHANCES = share(1, of=2)  # cuts at each moment after which any part of what was not synced is there
SEED = 20_270_114
CHANGING = (
    "write",
    "pwrite64",
    "ftruncate",
    "fsync",
    "fdatasync",
    "rename",
    "unlink",
    "mkdir",
    "openat",
)


@pytest.fixture(scope="module")
def prepared(tmp_path_factory) -> House:
    house = House(tmp_path_factory.mktemp("power") / "data")
    house.ask("seed")
    return house


def recorded(house: House, how: str, tmp_path: pathlib.Path) -> tuple[Disk, list[Call]]:
    """The disk before, and what the app did to it."""
    mine = House(tmp_path / "data")
    shutil.rmtree(mine.folder)
    shutil.copytree(house.folder, mine.folder)
    disk, record = Disk(mine.folder), tmp_path / "record"
    watched = [
        program("strace"),
        "-f",
        "-xx",
        "-s",
        "10000000",
        "-e",
        f"trace={CALLS}",
        "-o",
        str(record),
    ]
    command = [*watched, sys.executable, "-m", "tests.kills.journey", how]
    done = subprocess.run(
        command, cwd=HERE, env=mine.env, capture_output=True, text=True, timeout=600, check=False
    )
    assert done.returncode == 0, done.stderr
    return disk, list(calls(record))


def lost_at(disk: Disk, place: pathlib.Path, chance: random.Random | None) -> list[str]:
    """What is wrong after a cut at this moment: what was said to be done and is gone, what is not whole."""
    shutil.rmtree(place, ignore_errors=True)
    disk.lay_out(place, chance)
    base = sqlite3.connect(place / "deskwright.sqlite3")
    try:
        wrong = [
            f"integrity: {row}" for row in base.execute("PRAGMA integrity_check") if row != ("ok",)
        ]
        there = {f"contact {name}" for (name,) in base.execute("SELECT name FROM sites_contact")}
        there |= {f"answer {words}" for (words,) in base.execute("SELECT proof FROM sites_answer")}
        wrong += [f"lost: {words}" for words in disk.said if words not in there]
        rows = base.execute("SELECT place, small_place FROM sites_proof").fetchall()
        wrong += [
            f"not whole: {name}"
            for row in rows
            for name in row
            if not _whole(place / "proofs" / name)
        ]
        (made,) = base.execute("SELECT count(*) FROM sites_contact").fetchone()
        (told,) = base.execute("SELECT count(*) FROM sites_historicalcontact").fetchone()
        (counter,) = base.execute("SELECT counter FROM sites_site WHERE code = 'mill'").fetchone()
        (answered,) = base.execute("SELECT count(*) FROM sites_answer").fetchone()
        if (told, counter) != (made, 1 + made + answered):
            wrong.append(
                f"{made} contacts, {answered} answers, {told} lines of history, counter {counter}"
            )
    except sqlite3.DatabaseError as error:
        return [f"the database does not open: {error}"]
    finally:
        base.close()
    return wrong


def _whole(path: pathlib.Path) -> bool:
    return path.is_file() and hashlib.sha256(path.read_bytes()).hexdigest() == path.stem


def cuts(disk: Disk, done: list[Call], place: pathlib.Path, chances: int) -> tuple[int, list[str]]:
    """How many cuts were made, and what was wrong after them."""
    chance, wrong, count = random.Random(SEED), [], 0
    for call in done:
        open_before = len(disk.open)
        disk.do(call)
        if call.name not in CHANGING or (call.name == "openat" and len(disk.open) == open_before):
            continue
        for luck in [None, *[chance] * chances]:
            count += 1
            wrong += lost_at(disk, place, luck)
    return count, wrong


def test_nothing_that_was_said_to_be_done_is_lost(prepared, tmp_path):
    disk, done = recorded(prepared, "full", tmp_path)
    count, wrong = cuts(disk, done, tmp_path / "after", CHANCES)
    print(f"{count} cuts of power, {len(disk.said)} acknowledged")
    assert len(disk.said) == 10 and count > 100 * (1 + CHANCES)
    assert wrong == []


@pytest.mark.parametrize(
    ("how", "words"), [("normal", "lost: answer kim-4"), ("hasty", "not whole: ")]
)
def test_the_disk_does_forget(prepared, tmp_path, how, words):
    """Without what is done against it something is lost: SQLite as it usually syncs a write-ahead log, and photos
    for which nobody waits."""
    disk, done = recorded(prepared, how, tmp_path)
    _, wrong = cuts(disk, done, tmp_path / "after", 0)
    assert any(one.startswith(words) for one in wrong)
