"""What all tests of a whole house share: a PostgreSQL, and databases that are ready. Making the tables takes a
quarter of a minute, so it is done once for each kind of database, side by side, and copied."""

from __future__ import annotations

import contextlib
import pathlib
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import pytest

from tests.crowd.house import START_SECONDS, House, make_database, postgres, postgres_programs
from tests.programs import missing

Open = Callable[..., House]


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """A PostgreSQL of our own, by its address."""
    programs = postgres_programs()
    if programs is None:
        missing("PostgreSQL is not installed (Debian package: postgresql)")
    with postgres(programs) as address:
        yield address


@dataclass(frozen=True)
class Preparing:
    """``manage.py prepare`` under way, on the embedded database in a folder."""

    process: subprocess.Popen
    folder: pathlib.Path


@pytest.fixture(scope="session")
def preparing(tmp_path_factory) -> Preparing:
    house = House(tmp_path_factory.mktemp("prepared"))
    with house.log.open("wb") as said:
        begun = subprocess.Popen(
            [sys.executable, "manage.py", "prepare"],
            cwd=house.tree,
            env=house.environment,
            stdout=said,
            stderr=said,
        )
    return Preparing(begun, house.data)


@pytest.fixture(scope="session")
def prepared(preparing) -> pathlib.Path:
    """A data folder with an embedded database and static files, ready to be copied."""
    assert preparing.process.wait(START_SECONDS) == 0, (preparing.folder / "serve.log").read_text()
    return preparing.folder


@dataclass(frozen=True)
class FirstStarts:
    """Two houses that were started at once on an empty PostgreSQL: what each said when asked how it is."""

    database: str
    answers: list[str]
    said: list[str]


@pytest.fixture(scope="session")
def first_starts(server, preparing, tmp_path_factory) -> FirstStarts:
    make_database(server, "first")
    houses = [
        House(tmp_path_factory.mktemp("first"), database=server + "first", workers=1)
        for _ in range(2)
    ]
    with contextlib.ExitStack() as stopping:
        for house in houses:
            stopping.callback(house.stop)
            house.start(wait=False)
        answers = [_well(house) for house in houses]
    return FirstStarts("first", answers, [house.said() for house in houses])


def _well(house: House) -> str:
    try:
        house.wait_for_port()
        return house.get("/health")
    except (AssertionError, OSError) as error:
        return str(error)


@pytest.fixture
def house(tmp_path, prepared) -> Iterator[Open]:
    """Makes a house on a copy of the prepared data folder; all are stopped at the end."""
    made: list[House] = []

    def opened(**words) -> House:
        folder = tmp_path / f"data-{len(made)}"
        shutil.copytree(prepared, folder)
        made.append(House(folder, **words))
        return made[-1]

    yield opened
    for one in made:
        one.stop()


@pytest.fixture
def on_postgres(server, first_starts, house) -> Open:
    """As ``house``, with a prepared database on PostgreSQL."""

    def opened(**words) -> House:
        name = f"copy_{time.monotonic_ns()}"
        return house(database=make_database(server, name, first_starts.database), **words)

    return opened
