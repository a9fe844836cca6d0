"""Nothing acknowledged is lost when processes are killed, on either database.

A real server answers on 127.0.0.1; visitors add records and answer checks with photos, and note what was
acknowledged. Processes are killed (SIGKILL) at random moments from a seed: processes of the app one by one, the whole
app, the database itself. Then everything that was acknowledged must be there, once, and whole.
"""

from __future__ import annotations

import random
import shutil
import threading
import time
from dataclasses import dataclass

import pytest

from tests.kills.house import Cluster, House, Visitor
from tests.kills.writers import AT, Writer
from tests.shares import share

SEED = 20_270_114
ONE_BY_ONE, ALTOGETHER, OF_THE_DATABASE = share(8, of=18), share(1, of=2), share(1, of=2)
LONGEST = 30  # seconds that a kill waits for something to be acknowledged
PRESSES = share(6, of=12)


@dataclass
class Ground:
    """A house, how to come in, and its database's server where it has one."""

    house: House
    cookie: str
    counter: int
    cluster: Cluster | None = None

    def visitor(self) -> Visitor:
        return Visitor(self.house.port, self.cookie)


@pytest.fixture(scope="module")
def prepared(tmp_path_factory):
    """The embedded database with one site, to be copied."""
    house = House(tmp_path_factory.mktemp("prepared"))
    return house.folder / "deskwright.sqlite3", house.ask("seed")


@pytest.fixture(params=["sqlite", "postgresql"])
def ground(request, prepared, tmp_path):
    if request.param == "sqlite":
        house = House(tmp_path / "data")
        shutil.copy(prepared[0], house.folder)
        found = Ground(house, **prepared[1])
    else:
        cluster = Cluster()
        request.addfinalizer(cluster.close)
        house = House(tmp_path / "data", cluster.url)
        found = Ground(house, **house.ask("seed"), cluster=cluster)
    house.start()
    yield found
    house.kill()


def test_nothing_acknowledged_is_lost(ground):
    writers = [
        Writer(ground.visitor(), "eve"),
        Writer(ground.visitor(), "ada"),
        Writer(ground.visitor(), "kim", check="room-seen"),
        Writer(ground.visitor(), "lou", check="scope-agreed"),
    ]
    for one in writers:
        one.start()
    kill_at_random(ground, random.Random(SEED), writers)
    time.sleep(1)
    for one in writers:
        one.stop.set()
    for one in writers:
        one.join(60)
    ground.house.kill()
    if ground.cluster:
        ground.cluster.kill()
        ground.cluster.start()
    judge(ground, writers)


def kill_at_random(ground: Ground, chance: random.Random, writers: list[Writer]) -> None:
    """Each kill comes after some things were acknowledged, and a moment that has nothing to do with them."""
    house = ground.house
    moments = (
        ["one"] * ONE_BY_ONE
        + ["all"] * ALTOGETHER
        + (["database"] * OF_THE_DATABASE if ground.cluster else [])
    )
    chance.shuffle(moments)
    for what in moments:
        _await(writers, chance.randint(1, 5))
        time.sleep(chance.uniform(0, 0.3))
        if what == "one":
            house.kill_one(chance.choice)
        elif what == "all":
            house.kill()
            house.start()
        else:
            ground.cluster.kill()
            time.sleep(chance.uniform(0, 0.3))
            ground.cluster.start()
    assert house.kills >= ONE_BY_ONE + ALTOGETHER


def _await(writers: list[Writer], more: int) -> None:
    """Until so many more are acknowledged. Others may need the machine too: this gives up after a while."""
    wanted, end = sum(len(one.acknowledged) for one in writers) + more, time.monotonic() + LONGEST
    while sum(len(one.acknowledged) for one in writers) < wanted and time.monotonic() < end:
        time.sleep(0.01)


def judge(ground: Ground, writers: list[Writer]) -> None:
    state = ground.house.ask("look")
    acknowledged = [words for one in writers for words in one.acknowledged]
    sent = {words for one in writers for words in one.sent}
    there = {**state["contacts"], **state["answers"]}
    print(
        f"{ground.house.kills} kills of the app: {len(sent)} sent, {len(acknowledged)} acknowledged, "
        f"{len(there)} there"
    )
    assert not [words for one in writers for words in one.odd]
    assert all(len(one.acknowledged) >= 3 for one in writers), (
        "too little was written to tell anything"
    )
    assert not state["wrong"]
    assert [words for words in acknowledged if words not in there] == []
    assert [
        words for words, count in there.items() if count != 1
    ] == []  # sent again and again, kept once
    assert set(there) <= sent
    assert not state["without"]
    assert state["counter"] - ground.counter == len(there)
    assert state["forms"] == len(state["contacts"])


def test_presses_at_the_same_moment_in_two_processes_make_one(ground):
    """Each form is pressed six times at once; the server has two processes with two threads each."""
    for press in range(PRESSES):
        form = {"new-contacts-name": f"Eve {press}", "once": f"a-token-of-the-page-{press:04}"}
        ready, statuses = threading.Barrier(6), []
        threads = [
            threading.Thread(target=_press, args=(ground, form, ready, statuses)) for _ in range(6)
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(60)
        assert statuses == [302] * 6
    state = ground.house.ask("look")
    assert state["contacts"] == {f"Eve {press}": 1 for press in range(PRESSES)}
    assert not state["wrong"]
    assert state["forms"] == PRESSES


def _press(ground: Ground, form: dict, ready: threading.Barrier, statuses: list) -> None:
    ready.wait(30)
    statuses.append(ground.visitor().send(f"{AT}add/contacts", form))
