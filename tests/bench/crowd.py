"""Answers by status and seconds for a crowd at the door. Run: python -m tests.bench.crowd [--tree FOLDER]

Four houses: PostgreSQL with four workers, just restarted, 50 editors; the same while a worker is killed every half
second; SQLite with 10 editors; and ten readers who fetch the large site's book while somebody opens its brief again
and again. ``--only`` runs those whose title holds a word. ``--tree`` asks the server of another working tree, to
compare. What is measured and what counts as wrong is the same code as in ``tests/crowd``; "!" marks answers that must
not be.
"""

from __future__ import annotations

import argparse
import os
import pathlib
import sys
import tempfile
import time
from collections.abc import Callable

from tests.crowd.house import ROOT, House, make_database, postgres, postgres_programs
from tests.crowd.killing import Killer
from tests.crowd.people import Crowd, judged, table
from tests.crowd.readers import Readers

SHOWN = 6


def crowd(house: House, people: int, turns: int, killed: bool = False) -> None:
    """Starts a house, seats the people, starts it again and lets them in."""
    try:
        house.start()
        seeded = house.ask("editors", people)
        house.stop()
        house.start()
        company = Crowd(house.port, seeded, turns, patient=killed)
        began = time.monotonic()
        with Killer(house, company, active=killed) as killer:
            answers = company.run()
        took = time.monotonic() - began
    finally:
        house.stop()
    wrong = judged(answers, house.ask("look"), killed=killed)
    print(table(answers), flush=True)
    print(f"{len(answers)} answers in {took:.1f} s; killed: {killer.killed}; wrong: {len(wrong)}")
    for line in wrong[:SHOWN]:
        print("  " + line)


def books(house: House) -> None:
    """Ten books and a page, again and again."""
    try:
        house.start()
        company = Readers(house.port, house.ask("large"))
        print(f"the brief alone: middle {company.alone():.2f} s", flush=True)
        print(company.told(*company.run()))
    finally:
        house.stop()


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--tree", type=pathlib.Path, default=ROOT)
    parser.add_argument("--only", default="")
    given = parser.parse_args()
    tree = given.tree.resolve()
    programs = postgres_programs()
    if programs is None:
        sys.exit("PostgreSQL is not installed (Debian package: postgresql)")
    with postgres(programs) as server, tempfile.TemporaryDirectory() as place:

        def house(name: str, workers: int, database: str = "") -> House:
            folder = pathlib.Path(place) / name
            folder.mkdir()
            return House(folder, database=database, workers=workers, tree=tree)

        def copied(name: str) -> str:
            """A database whose tables are made: once, the others are copies."""
            if not (pathlib.Path(place) / "first").exists():
                house("first", 1, make_database(server, "first")).manage("migrate", "-v0")
            return make_database(server, name, "first")

        trials: dict[str, Callable[[], None]] = {
            "PostgreSQL, 4 workers, just restarted, 50 editors": lambda: crowd(
                house("restarted", 4, copied("restarted")), 50, 4
            ),
            "the same, a worker killed every 0.5 s": lambda: crowd(
                house("killed", 4, copied("killed")), 50, 2, killed=True
            ),
            "SQLite, 2 workers, 10 editors": lambda: crowd(house("sqlite", 2), 10, 4),
            "10 readers of the large book, SQLite, 2 workers": lambda: books(house("books", 2)),
        }
        for title, trial in trials.items():
            if given.only in title:
                print(f"\n{title}; load of this machine {os.getloadavg()[0]:.0f}", flush=True)
                trial()


if __name__ == "__main__":
    main()
