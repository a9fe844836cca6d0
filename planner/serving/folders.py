"""Where the data lies: the demo and a real house each have a folder of their own, closed to everybody else."""

from __future__ import annotations

import contextlib
import functools
import os
import pathlib
import sqlite3
import stat
import tomllib
from collections.abc import Iterable, Mapping
from typing import Annotated, Any

from planner.record.choices import Choice
from planner.serving.environment import BadSetting

HOME = pathlib.Path(__file__).resolve().parents[2]
DEMO_HOUSE = HOME / "fixtures" / "demo" / "house.toml"
DATABASE = "deskwright.sqlite3"


class HouseKind(Choice):
    """What a start is of, and what a database is for."""

    DEMO = "demo"
    REAL = "real"
    TEST = "test"


NAMES: Mapping[str, str] = {
    HouseKind.DEMO: "demo",
    HouseKind.REAL: "house",
    HouseKind.TEST: "tests",
}
# How the names begin of what Deskwright itself puts into its folder.
OURS = (DATABASE, "proofs", "static", "preparing.lock", *NAMES.values())


def choose(
    kind: Annotated[str, HouseKind],
    given: str,
    elsewhere: bool,
    base: pathlib.Path = HOME / ".data",
) -> pathlib.Path:
    """The folder of a start of this kind. ``elsewhere``: its database is not in the folder.

    Before there were two folders everything lay in ``.data`` itself; what lies there is still found by the
    house that it belongs to.
    """
    if given:
        return pathlib.Path(given).absolute()
    own = base / NAMES[kind]
    if kind == HouseKind.TEST or (own / DATABASE).exists():
        return own
    if elsewhere:
        stays = (
            kind == HouseKind.REAL and (base / "proofs").exists() and not (own / "proofs").exists()
        )
    else:
        stays = earlier(base / DATABASE) == kind
    if stays:
        return base
    return own


def earlier(path: pathlib.Path) -> str:
    """Whose an embedded database is: "demo", "real", or "" when it holds nobody.

    One that cannot be read counts as real: a start that fails in words is better than a new house beside it.
    """
    if not path.exists():
        return ""
    try:
        address = f"{path.resolve().as_uri()}?mode=ro"
        with contextlib.closing(sqlite3.connect(address, uri=True)) as found:
            return _told_by(found)
    except sqlite3.Error:
        return HouseKind.REAL


def _told_by(found: sqlite3.Connection) -> str:
    def column(table: str, name: str) -> list[str]:
        there = found.execute("SELECT 1 FROM sqlite_master WHERE name = ?", [table]).fetchone()
        rows = found.execute(f"SELECT {name} FROM {table}").fetchall() if there else []  # noqa: S608 (our own names)
        return [row[0] for row in rows]

    mark = column("sites_housemark", "kind")
    if mark:
        return mark[0]
    people, customers = column("sites_person", "email"), column("sites_customer", "code")
    if not people and not customers:
        return ""
    if all_of_the_demo(people, customers):
        return HouseKind.DEMO
    return HouseKind.REAL


@functools.cache
def demo_house() -> dict[str, Any]:
    """The demo's own file: its people with the password that is printed for everybody, its customers."""
    return tomllib.loads(DEMO_HOUSE.read_text(encoding="utf-8"))


def all_of_the_demo(people: Iterable[str], customers: Iterable[str]) -> bool:
    """Whether a demo put all of them there: people by e-mail address, customers by code."""
    addresses = {one["email"] for one in demo_house()["people"]}
    return set(people) <= addresses and set(customers) <= set(demo_house()["customers"])


# -- who may look into it ------------------------------------------------------------------------


def prepare(folder: pathlib.Path, *, closed: bool = True) -> None:
    """Makes the folder, and closes it and what will be written. Raises :class:`BadSetting` where that fails."""
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        if closed and os.name == "posix":
            _close(folder)
        (folder / "static").mkdir(exist_ok=True)
    except OSError as error:
        words = f"The data folder {folder} cannot be used: {error.strerror}."
        raise BadSetting(f"{words} Make it writable, or name another in DESKWRIGHT_DATA.") from None


def _close(folder: pathlib.Path) -> None:
    """Takes the world's rights away where the folder is ours; rights of a group that somebody gave alone stay."""
    if open_to_all(folder) and _is_ours(folder):
        folder.chmod(0o700)
    group = stat.S_IMODE(folder.stat().st_mode) & 0o070
    if not open_to_all(folder):
        shared = group
    else:
        shared = 0
    mask = 0o077 & ~shared
    os.umask(mask)
    for path in folder.glob(f"{DATABASE}*"):
        mode = stat.S_IMODE(path.stat().st_mode)
        if mode & mask and path.stat().st_uid == os.geteuid():
            path.chmod(mode & ~mask)


def open_to_all(folder: pathlib.Path) -> bool:
    return os.name == "posix" and bool(folder.stat().st_mode & 0o007)


def _is_ours(folder: pathlib.Path) -> bool:
    """A folder of the system, or one in which others keep things too, is not ours to close."""
    found = folder.stat()
    if found.st_uid != os.geteuid() or found.st_mode & stat.S_ISVTX:
        return False
    return all(path.name.startswith(OURS) for path in folder.iterdir())
