"""Odd requests to every address of the house, drawn by a seed, and what became of them.

Each request is one transaction that is taken back, so the next one meets the house as it was.
"""

from __future__ import annotations

import collections
import contextlib
import json
import random
import time
import traceback
import warnings
from collections.abc import Iterator
from dataclasses import dataclass, field
from http.cookies import SimpleCookie
from urllib.parse import SplitResult, urlsplit

from django.db import transaction
from django.http import HttpResponse
from django.test import Client, TestCase
from django.urls import Resolver404, resolve

from sites.models import Person, Site
from tests.door import reauthenticated
from tests.long import asked, oddities
from tests.long.oddities import BODIES, FILES, FORM, HEADERS, MULTIPART, odd
from tests.long.real import addresses

METHODS = ("GET", "POST", "HEAD", "OPTIONS", "PUT", "PATCH", "DELETE", "TRACE", "ODD")
WHO = ("editor", "lead", "staff", "nobody")
SHOWING = (
    "chapter",
    "chapter",
    "chapter",
    "sheet",
    "config",
    "book",
    "day",
    "site-export",
    "changes",
    "run",
    "what-if",
    "ready",
)
OPENING = ("add", "edit", "remove")  # what opens another form on a page
FINE = {
    200,
    204,
    206,
    301,
    302,
    303,
    304,
    307,
    308,
    400,
    403,
    404,
    405,
    409,
    410,
    411,
    412,
    413,
    415,
    416,
    422,
    429,
}


@dataclass
class Shot:
    """One request, as it is sent."""

    who: str
    url: str
    method: str = "GET"
    body: bytes = b""
    kind: str = FORM
    headers: dict[str, str] = field(default_factory=dict)

    def __str__(self) -> str:
        body = f" {self.kind} {self.body[:160]!r}" if self.body else ""
        return f"{self.method} {self.url[:300]} as {self.who}{body} {self.headers or ''}".rstrip()


@dataclass
class Trouble:
    """What no answer may be: an exception, a 5xx, or a status that says nothing."""

    shot: Shot
    what: str
    trace: str = ""

    @property
    def place(self) -> str:
        """Where in our own code it came from: troubles of one place are one trouble."""
        ours = [
            line for line in self.trace.splitlines() if "/sites/" in line or "/planner/" in line
        ]
        own = [line for line in ours if "site-packages" not in line]
        return f"{self.what.splitlines()[0][:120]} | {own[-1].strip() if own else self.trace.strip()[-200:]}"


class Range:
    """The house with everybody signed in, and what its pages ask for."""

    def __init__(self, people: dict[str, Person | None], site: Site, secrets: dict[str, str]):
        self.site = site
        self.clients = {who: _signed_in(person) for who, person in people.items()}
        self.cookies = {
            who: client.cookies.output(header="", sep=";") for who, client in self.clients.items()
        }
        self.real = addresses(site, secrets)
        self.read = sorted(set().union(*asked.names_read().values()))
        self.forms: dict[tuple, asked.Form] = {}
        self.asked: dict[str, dict[str, str]] = collections.defaultdict(
            dict
        )  # with a value that means something
        self.opens: set[str] = set()  # names that answer GET
        self.documents: dict[str, bytes] = {}

    # -- sending ---------------------------------------------------------------------------------

    def send(self, shot: Shot) -> HttpResponse | Trouble:
        """The answer, read to its end; or what is wrong with it. Nothing of it stays."""
        client = self.clients[shot.who]
        client.cookies = SimpleCookie(self.cookies[shot.who].strip())
        parts = urlsplit(shot.url)
        headers = {
            f"HTTP_{name.upper().replace('-', '_')}": value for name, value in shot.headers.items()
        }
        for name in ("CONTENT_TYPE", "CONTENT_LENGTH"):
            if f"HTTP_{name}" in headers:
                headers[name] = headers.pop(f"HTTP_{name}")
        try:
            with transaction.atomic(), warnings.catch_warnings():
                warnings.simplefilter("ignore")
                with _what_follows():
                    response = self._asked(client, shot, parts, headers)
                if shot.method == "POST" and response.status_code == 302:
                    self._look_after(client, shot, response["Location"])
                transaction.set_rollback(True)
        except Exception as error:  # whatever it is: no request may end so
            return Trouble(shot, f"{type(error).__name__}: {error}"[:300], traceback.format_exc())
        if response.status_code not in FINE:
            return Trouble(shot, f"status {response.status_code}")
        return response

    @staticmethod
    def _asked(client: Client, shot: Shot, parts: SplitResult, headers: dict) -> HttpResponse:
        """The answer, read to its end."""
        # as a server hands it on: its bytes, letter by letter (PEP 3333)
        query = parts.query.encode("utf-8", "surrogatepass").decode("latin-1")
        sent = {"QUERY_STRING": query, **headers}
        response = client.generic(shot.method, parts.path, shot.body, shot.kind, **sent)
        if response.streaming:
            collections.deque(response.streaming_content, maxlen=0)
        return response

    def _look_after(self, client: Client, shot: Shot, led_to: str) -> None:
        """What was saved is looked at: where the answer leads, and somewhere else. Neither may raise."""
        chance = random.Random(str(shot))
        own = self.site.customer.code in shot.url
        places = [led_to] * led_to.startswith("/")
        places += [chance.choice(self.real[chance.choice(SHOWING)])] * own
        for place in places:
            response = client.get(place)
            if response.streaming:
                collections.deque(response.streaming_content, maxlen=0)
            if response.status_code >= 500:
                raise AssertionError(f"{place[:200]} is {response.status_code} afterwards")

    # -- looking around --------------------------------------------------------------------------

    def look_around(self, few: int = 3) -> list[Trouble]:
        """Opens every address (of one name so many), and gathers the forms and queries of the pages. None may fail."""
        troubles = []
        links: dict[tuple, str] = {}
        for name, urls in self.real.items():
            for url in urls if name == "chapter" else urls[:few]:
                who = "lead" if url.startswith(f"/at/{self.site.customer.code}/") else "staff"
                troubles += self._gather(Shot(who, url), links)
        for url in list(links.values()):
            troubles += self._gather(Shot("lead", url), {})
        self._take_documents()
        for shot in self._previews():
            troubles += self._gather(shot, {})
        return troubles

    def _gather(self, shot: Shot, links: dict[tuple, str]) -> list[Trouble]:
        found = self.send(shot)
        if isinstance(found, Trouble):
            return [found]
        if found.status_code != 405:
            self.opens.add(self.name_of(shot.url))
        if found.streaming or "html" not in found.headers.get("Content-Type", ""):
            return []
        page = asked.read_page(shot.url, found.content)
        for form in page.forms:
            self.forms.setdefault((self.name_of(form.action), form.shape), form)
        for link in page.links:
            names = tuple(sorted(name for name, _ in asked.asked_of(link)))
            if names and link.startswith("/"):
                self.asked[self.name_of(link)].update(asked.asked_of(link))
                opened = [
                    value.partition(":")[0]
                    for name, value in asked.asked_of(link)
                    if name in OPENING
                ]
                links.setdefault((self.name_of(link), names, *opened), link)
        return []

    def _take_documents(self) -> None:
        """What leaves the house and may come back to it."""
        for name, url in (
            ("json", self.real["site-export"][0]),
            ("csv", _ending(self.real["sheet"], ".csv")),
        ):
            found = self.send(Shot("lead", url))
            self.documents[name] = found.content if isinstance(found, HttpResponse) else b""

    def _previews(self) -> Iterator[Shot]:
        """Uploads whose preview holds a form that nobody gets otherwise."""
        for name, kind in (("bring-in", "json"), ("read-back", "csv")):
            body = oddities.multipart([], [("file", self.documents[kind])])
            yield Shot("lead", self.real[name][0], "POST", body, MULTIPART)

    @staticmethod
    def name_of(url: str) -> str:
        try:
            return resolve(urlsplit(url).path).url_name or ""
        except Resolver404:
            return ""

    # -- odd requests ----------------------------------------------------------------------------

    def shots(self, chance: random.Random) -> Iterator[Shot]:
        """Without end: every address in turn, each time in another way."""
        ways = (
            self._query,
            self._form,
            self._path,
            self._headers,
            self._body,
            self._form,
            self._upload,
            self._query,
        )
        names = sorted(name for name, urls in self.real.items() if urls)
        while True:
            chance.shuffle(names)
            for name in names:
                yield chance.choice(ways)(chance, name)

    def _who(self, chance: random.Random) -> str:
        return chance.choices(WHO, weights=(4, 4, 4, 1))[0]

    def _query(self, chance: random.Random, name: str) -> Shot:
        """Odd values for what the address is asked, and for names that others are asked by."""
        if name not in self.opens:
            return self._form(chance, name)
        url, known = chance.choice(self.real[name]), self.asked[name]
        own = chance.choice(sorted(known) or self.read)
        pairs = [(own, odd(chance, known.get(own, "host-12"), bent=0.6))]
        pairs += [(chance.choice(self.read), odd(chance)) for _ in range(chance.randrange(3))]
        if chance.random() < 0.2:
            pairs.append(pairs[0])
        if chance.random() < 0.1:
            pairs.append((odd(chance), odd(chance)))
        headers = {"HX-Request": "true"} if chance.random() < 0.2 else {}
        return Shot(self._who(chance), f"{url}?{oddities.query(pairs)}", headers=headers)

    def _form(self, chance: random.Random, name: str) -> Shot:
        """A form of the page as it stands, with one, several or all of its values odd, or left out, or doubled."""
        fitting = [form for (own, _), form in self.forms.items() if own == name]
        form = chance.choice(fitting or list(self.forms.values()))
        pairs: list = list(form.values)
        if not fitting and name not in ("", None):
            pairs = [(chance.choice(self.read), odd(chance)) for _ in range(4)]
            form = asked.Form(chance.choice(self.real[name]), "post")
        few = chance.choice((1, 1, 1, 2, len(pairs)))
        for at in chance.sample(range(len(pairs)), min(few, len(pairs))):
            own, valid = pairs[at]
            pairs[at] = (own, odd(chance, valid))
        if pairs and chance.random() < 0.15:
            pairs.append((chance.choice(pairs)[0], odd(chance)))
        if pairs and chance.random() < 0.1:
            pairs.pop(chance.randrange(len(pairs)))
        return self._sent(chance, form, pairs)

    def _sent(self, chance: random.Random, form: asked.Form, pairs: list) -> Shot:
        who = self._who(chance)
        headers = chance.choice(
            ({}, {}, {}, {"HX-Request": "true"}, {"Accept": "application/json"})
        )
        if form.method == "get":
            return Shot(
                who, f"{form.action.partition('?')[0]}?{oddities.query(pairs)}", headers=headers
            )
        if form.files or chance.random() < 0.1:
            files = [(own, chance.choice(FILES)) for own in form.files if chance.random() < 0.7]
            return Shot(
                who, form.action, "POST", oddities.multipart(pairs, files), MULTIPART, headers
            )
        return Shot(who, form.action, "POST", oddities.query(pairs).encode(), FORM, headers)

    def _path(self, chance: random.Random, name: str) -> Shot:
        """One part of the path odd."""
        parts = chance.choice(self.real[name]).split("/")
        at = chance.randrange(1, len(parts))
        parts[at] = oddities.escaped(odd(chance, parts[at]))[:6000]
        method = "GET" if name in self.opens and chance.random() < 0.7 else "POST"
        return Shot(self._who(chance), "/".join(parts), method)

    def _headers(self, chance: random.Random, name: str) -> Shot:
        headers = dict(chance.choice(HEADERS))
        method = chance.choice(METHODS)
        return Shot(self._who(chance), chance.choice(self.real[name]), method, headers=headers)

    def _body(self, chance: random.Random, name: str) -> Shot:
        kind, body = chance.choice(BODIES)
        method = chance.choice(("POST", "POST", "POST", "POST", *METHODS))
        return Shot(self._who(chance), chance.choice(self.real[name]), method, body, kind)

    def _upload(self, chance: random.Random, name: str) -> Shot:
        """A document of the house that was meddled with."""
        name = chance.choice(("bring-in", "read-back", "probe-results", "answer", "run-item"))
        own = {"bring-in": "file", "read-back": "file", "probe-results": "results"}.get(
            name, "photos"
        )
        content = {"bring-in": self._meddled_json, "read-back": self._meddled_csv}.get(
            name, lambda c: c.choice(FILES)
        )
        pairs = [("state", "proven"), ("note", "seen")] if own == "photos" else []
        body = oddities.multipart(pairs, [(own, content(chance))])
        return Shot(self._who(chance), chance.choice(self.real[name]), "POST", body, MULTIPART)

    def _meddled_json(self, chance: random.Random) -> bytes:
        document = json.loads(self.documents["json"])
        for _ in range(chance.choice((1, 1, 3, 20))):
            _meddle(chance, document)
        return json.dumps(document).encode()

    def _meddled_csv(self, chance: random.Random) -> bytes:
        cells = self.documents["csv"].split(b",")
        for _ in range(chance.choice((1, 1, 3, 20))):
            at = chance.randrange(len(cells))
            value = odd(chance, cells[at].decode("utf-8", "replace"))
            cells[at] = b'"' + oddities.as_bytes(value).replace(b'"', b'""') + b'"'
        return b",".join(cells)


def _meddle(chance: random.Random, document: dict) -> None:
    """Another value somewhere in a document."""
    place: dict | list = document
    while True:
        keys = list(place) if isinstance(place, dict) else list(range(len(place)))
        key = chance.choice(keys)
        if isinstance(place[key], dict | list) and place[key] and chance.random() < 0.9:
            place = place[key]
            continue
        number = chance.choice(
            (1e308, -1, 0, 2**63, 2**64, 10**400, 1.5, float("nan"), float("inf"), True, None)
        )
        text = oddities.as_bytes(odd(chance, str(place[key]))).decode("utf-8", "replace")
        text = chance.choice((text, text, "\ud800", "a\x00b"))
        place[key] = chance.choice(
            (number, text, text, [], {}, [text], {"a": number}, [[[[[[[]]]]]]])
        )
        return


@contextlib.contextmanager
def _what_follows() -> Iterator[None]:
    """Does what waits for the end of a transaction, letters above all: these never end, they are taken back."""
    with TestCase.captureOnCommitCallbacks() as waiting:
        yield
    for act in waiting:
        act()


def _signed_in(person: Person | None) -> Client:
    """Somebody who has typed the password once more, and need not for as long as this lasts."""
    client = Client(raise_request_exception=True)
    if person is not None:
        client.force_login(person)
        reauthenticated(client, person, at=time.time() + 86_400)
    return client


def _ending(urls: list[str], ending: str) -> str:
    return next(url for url in urls if url.endswith(ending))
