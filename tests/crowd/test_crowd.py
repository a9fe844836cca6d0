"""A crowd at the door: nothing breaks, nobody is mistaken for somebody else, nothing acknowledged is lost."""

import itertools
import pathlib
import shutil
import signal
import time
from collections import Counter

import pytest

from tests.crowd.house import ROOT, House
from tests.crowd.killing import Killer
from tests.crowd.people import BROKEN, Crowd, judged, table
from tests.crowd.readers import Readers
from tests.crowd.slow import Dribblers
from tests.shares import share

PAGES = ("/health", "/at/crowd/field/brief/")
READERS = 6
TURNS = share(2, of=4)
LOGIN = "/sign-in/login/"
LATEST = 1.0  # seconds for a page, whatever others do


def let_in(
    house: House, people: int, turns: int, *, killed: bool = False
) -> tuple[list, list[str]]:
    """Seats the people, starts the house and lets everybody in at once; the answers, and what was wrong."""
    seeded = house.ask("editors", people)
    house.start()
    crowd = Crowd(house.port, seeded, turns, patient=killed)
    with Killer(house, crowd, active=killed) as killer:
        answers = crowd.run()
    house.stop()
    print(table(answers))
    tried = Counter(one.what for one in answers)
    assert tried["add"] == tried["fight"] == people * turns, "not everybody tried everything"
    assert len({one.turn for one in answers}) == turns
    assert killer.killed >= 3 or not killed
    return answers, judged(answers, house.ask("look"), killed=killed)


# -- PostgreSQL ----------------------------------------------------------------------------------


def test_two_first_starts_at_once_both_come_up(first_starts):
    assert first_starts.answers == ['{"well": true}'] * 2, "\n".join(first_starts.said)


def test_fifty_editors_at_the_door_of_a_restarted_house(on_postgres):
    answers, wrong = let_in(on_postgres(workers=4), 50, TURNS)
    assert not wrong, "\n".join(wrong)
    assert len(answers) == 50 * TURNS * 3


def test_processes_that_are_killed_take_nothing_acknowledged_with_them(on_postgres):
    answers, wrong = let_in(on_postgres(workers=4), 50, TURNS, killed=True)
    assert not wrong, "\n".join(wrong)
    assert any(one.status == BROKEN for one in answers), (
        "nobody was at work when a process went: nothing was tried"
    )
    assert any(one.what == "add" and one.acknowledged for one in answers)
    assert sum(one.status != BROKEN for one in answers) > len(answers) / 2


# -- the embedded database -----------------------------------------------------------------------


def test_ten_editors_on_the_embedded_database(house):
    answers, wrong = let_in(house(workers=2), 10, TURNS)
    assert not wrong, "\n".join(wrong)
    assert len(answers) == 10 * TURNS * 3


def test_what_was_not_tried_or_not_judged_is_told():
    """A crowd that goes home at once is no proof of anything."""
    crowd = Crowd(0, {"csrf": "c", "people": [{"name": "Eve", "cookie": ""}] * 2}, turns=1)
    crowd.barrier.abort()
    with pytest.raises(AssertionError, match="went home"):
        crowd.run()


# -- heavy papers --------------------------------------------------------------------------------


def test_all_who_fetch_the_book_all_get_it_and_no_page_waits_for_them(house):
    mine = house(workers=2)
    seeded = mine.ask("large")
    mine.start("--no-prepare")
    company = Readers(mine.port, seeded, READERS)
    company.alone()  # the pages are read once before anybody asks for a book
    books, pages = company.run()
    print(company.told(books, pages))
    assert len(books) == READERS and all(one.pdf for one in books)
    assert any(one.waited for one in books), "nobody had to wait: nothing was tried"
    # How long the pages took stands in the bench: a second is kept only by a machine that has time for us.
    assert pages and {one.status for one in pages} == {200}


# -- the server ----------------------------------------------------------------------------------


def test_a_reload_brings_new_code_and_loses_nobody(house, tmp_path):
    tree = tmp_path / "tree"
    tree.mkdir()
    for name in ("planner", "sites", "static", "templates", "fixtures"):
        shutil.copytree(ROOT / name, tree / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "manage.py", tree)
    mine = house(tree=tree, workers=1)
    mine.start("--no-prepare")
    assert mine.get("/health") == '{"well": true}'
    assert "New page." not in mine.get(LOGIN)
    old = mine.processes()
    view, page = tree / "sites" / "views" / "home.py", tree / "templates" / "account" / "login.html"
    view.write_text(view.read_text().replace('"well": well', '"well": well, "new": True'))
    page.write_text(page.read_text().replace("{% block title %}", "{% block title %}New page. "))
    mine.tell(signal.SIGHUP)
    end, answers = time.monotonic() + 60, []
    while time.monotonic() < end and (
        not answers or "new" not in answers[-1] or set(old) & set(mine.processes())
    ):
        answers.append(mine.get("/health"))
        time.sleep(0.05)
    assert set(answers) <= {'{"well": true}', '{"well": true, "new": true}'}
    assert "new" in answers[-1], "the old code still answers"
    assert mine.get(LOGIN).count("New page.") == 1


def test_no_process_of_the_server_holds_a_connection_of_another(on_postgres):
    """The one that looks after the others never imports the house, and starts without anything of the preparer's."""
    mine = on_postgres(workers=2)
    mine.start()
    mine.get("/health")
    sockets = [_sockets(pid) for pid in (mine.master(), *mine.processes())]
    assert len(sockets) == 3 and len(sockets[0]) == 1
    for one, other in itertools.combinations(sockets, 2):
        assert one & other == sockets[0], "two share more than the socket that people come in by"


def _sockets(pid: int) -> set[str]:
    found = set()
    for one in pathlib.Path(f"/proc/{pid}/fd").iterdir():
        try:
            target = str(one.readlink())
        except OSError:
            continue
        if target.startswith("socket:"):
            found.add(target)
    return found


def test_slow_connections_keep_nobody_waiting(house):
    mine = house(workers=2)
    person = mine.ask("editors", 1)["people"][0]
    mine.start("--no-prepare")
    _warm(mine, person)
    for count in (20, 200):
        with Dribblers(mine.port, count) as slow:
            seconds = [_seconds(mine, path, person) for _ in range(4) for path in PAGES]
            assert slow.still_open() == count, "they were turned away instead"
        assert max(seconds) < LATEST, count


def _warm(house: House, person: dict) -> None:
    """Asks for the pages until each process has answered some: the first answer of each reads the catalogue."""
    for _ in range(20):
        for path in PAGES:
            house.get(path, person["cookie"])


def _seconds(house: House, path: str, person: dict) -> float:
    began = time.monotonic()
    text = house.get(path, person["cookie"])
    assert path == "/health" or person["name"] in text
    return time.monotonic() - began
