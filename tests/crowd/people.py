"""A crowd of signed-in editors: each adds records of their own, and all fight over one field of one record.

A light client: plain connections that are kept open, one thread a person. What an answer tells is noted,
and :func:`judged` says what was wrong with it.
"""

from __future__ import annotations

import http.client
import re
import threading
import time
import urllib.parse
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

SECRET = "c" * 32  # of the CSRF cookie: a form's token may be the secret itself
TIMEOUT = 60.0
BROKEN = 0  # the status of a connection that was broken off
_YOU = re.compile(r'class="you"[^>]*>([^<]*)<')
_ADDED = re.compile(r"Added: ([^<]*?)\.<")


@dataclass(frozen=True)
class Answer:
    """What somebody got: to what (``page``, ``add``, ``fight``), with which status, after how many seconds."""

    who: str
    what: str
    turn: int
    status: int
    seconds: float
    value: str = ""  # what was sent
    wrong: str = ""  # what must not be

    @property
    def acknowledged(self) -> bool:
        return 200 <= self.status < 400 and not self.wrong


@dataclass
class Person:
    """One editor with one connection. ``ask`` never raises for a connection that broke."""

    name: str
    port: int
    cookie: str
    answers: list[Answer] = field(default_factory=list)
    connection: http.client.HTTPConnection | None = None

    def ask(
        self, what: str, turn: int, path: str, form: dict | None = None, value: str = ""
    ) -> tuple[int, str]:
        began = time.monotonic()
        status, target, text = self._exchange(path, form)
        wrong = self._wrong(status, target, text)
        self.answers.append(
            Answer(self.name, what, turn, status, time.monotonic() - began, value, wrong)
        )
        return status, text

    def _exchange(self, path: str, form: dict | None) -> tuple[int, str, str]:
        headers = {"Cookie": self.cookie}
        body = None
        if form is not None:
            body = urllib.parse.urlencode({**form, "csrfmiddlewaretoken": SECRET})
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        try:
            if self.connection is None:
                self.connection = http.client.HTTPConnection(
                    "127.0.0.1", self.port, timeout=TIMEOUT
                )
            self.connection.request("GET" if form is None else "POST", path, body, headers)
            answer = self.connection.getresponse()
            return (
                answer.status,
                answer.headers.get("Location", ""),
                answer.read().decode(errors="replace"),
            )
        except (OSError, http.client.HTTPException):
            self.close()
            return BROKEN, "", ""

    def _wrong(self, status: int, target: str, text: str) -> str:
        if status >= 500:
            return "broke"
        if "/sign-in/" in target:
            return "signed out"
        if status in (BROKEN, 302):
            return ""
        you = _YOU.search(text)
        if you is None or you[1] != self.name:
            return f"somebody else's page: {you[1] if you else 'nobody'}"
        said = [one for one in _ADDED.findall(text) if not one.startswith(self.name)]
        return f"somebody else's words: {said}" if said else ""

    def close(self) -> None:
        if self.connection is not None:
            self.connection.close()
            self.connection = None


@dataclass
class Crowd:
    """Everybody at a barrier. ``patient`` is for a house whose processes are being killed: a page is asked
    for again when its connection broke; what was sent is never sent twice."""

    port: int
    seeded: dict
    turns: int = 4
    patient: bool = False

    def __post_init__(self) -> None:
        csrf = f"{self.seeded['csrf']}={SECRET}"
        told = self.seeded["people"]
        self.people = [Person(one["name"], self.port, f"{one['cookie']}; {csrf}") for one in told]
        self.barrier = threading.Barrier(len(self.people))

    def run(self) -> list[Answer]:
        """All turns; every answer in the order in which each got theirs."""
        threads = [
            threading.Thread(target=self._one, args=(one,), daemon=True) for one in self.people
        ]
        for one in threads:
            one.start()
        for one in threads:
            one.join(240)
        assert not any(one.is_alive() for one in threads), "somebody still waits"
        assert not self.barrier.broken, "somebody went home before the end"
        return [answer for one in self.people for answer in one.answers]

    def answered(self) -> int:
        """How many answers came so far."""
        return sum(one.status != BROKEN for person in self.people for one in list(person.answers))

    def _one(self, person: Person) -> None:
        try:
            for turn in range(self.turns):
                self.barrier.wait(120)
                self._turn(person, turn)
        except Exception:
            self.barrier.abort()  # told at the end, see run
            raise
        finally:
            person.close()

    def _turn(self, person: Person, turn: int) -> None:
        site, pk = self.seeded["site"], self.seeded["fought"]
        text = self._page(person, turn, f"{site}directory/?edit=directory:{pk}")
        mine = f"{person.name} in turn {turn}"
        person.ask("add", turn, f"{site}add/contacts", {"new-contacts-name": mine}, mine)
        self.barrier.wait(120)
        opened = re.search(rf'name="directory-{pk}-edits" value="(\d+)"', text)
        form = {"join_account": mine, "edits": opened[1] if opened else "0"}
        prefixed = {f"directory-{pk}-{name}": value for name, value in form.items()}
        person.ask("fight", turn, f"{site}change/directory/{pk}", prefixed, mine)

    def _page(self, person: Person, turn: int, path: str) -> str:
        for _ in range(200):
            status, text = person.ask("page", turn, path)
            if status != BROKEN or not self.patient:
                return text
            time.sleep(0.1)
        return ""


# -- what it comes to ----------------------------------------------------------------------------


def judged(answers: Iterable[Answer], record: dict, *, killed: bool = False) -> list[str]:
    """What was wrong, in words; nothing when all was well. ``record`` is what ``seed.py look`` says."""
    found = [
        f"{one.what} of {one.who}, turn {one.turn}: {one.status} {one.wrong}"
        for one in answers
        if one.wrong
    ]
    if not killed:
        found += [f"{one.what} of {one.who}: broken off" for one in answers if one.status == BROKEN]
    there = Counter(record["names"])
    for one in answers:
        if one.what == "add" and one.acknowledged and there[one.value] != 1:
            found.append(f"{one.value!r} was acknowledged and is there {there[one.value]} times")
        if one.what == "fight" and one.acknowledged and record["accounts"].count(one.value) != 1:
            found.append(
                f"the join account {one.value!r} was acknowledged and is not in the history"
            )
    return found + _fights(list(answers), killed)


def _fights(answers: list[Answer], killed: bool) -> list[str]:
    """In every turn one wins and everybody else is told of the clash."""
    found = []
    for turn in sorted({one.turn for one in answers}):
        by_status = Counter(
            one.status for one in answers if one.what == "fight" and one.turn == turn
        )
        won, other = by_status.pop(302, 0), by_status.keys() - {409, *([BROKEN] if killed else [])}
        if won > 1 or (won == 0 and not killed):
            found.append(f"turn {turn}: {won} won the fight")
        found += [f"turn {turn}: a fight was answered {status}" for status in sorted(other)]
    return found


def table(answers: Iterable[Answer]) -> str:
    """Answers by what was asked and status, with the middle and the slowest seconds."""
    lines = [f"{'asked':8} {'status':>8} {'answers':>8} {'middle s':>9} {'slowest s':>10}"]
    groups: dict[tuple[str, str], list[Answer]] = {}
    for one in answers:
        status = "broken" if one.status == BROKEN else str(one.status)
        groups.setdefault((one.what, status + (" !" if one.wrong else "")), []).append(one)
    for (what, status), those in sorted(groups.items()):
        seconds = sorted(one.seconds for one in those)
        middle = seconds[len(seconds) // 2]
        lines.append(f"{what:8} {status:>8} {len(those):>8} {middle:>9.2f} {seconds[-1]:>10.2f}")
    return "\n".join(lines)
