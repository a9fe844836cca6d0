"""How often something may be tried: counted before it is tried, in the database, for all processes together.

Nobody shuts others out. A wrong password counts for the account *from that address*, for the address, and, much
higher than one address can reach, for the account. Whoever was signed in on this device before is counted by the
device alone (:mod:`sites.web.devices`), whatever others type beside them.
"""

from __future__ import annotations

import hashlib
import math
import time
from dataclasses import dataclass, field

from allauth.core.exceptions import ImmediateHttpResponse
from allauth.core.internal.ratelimit import Rate, apply_rate, cache_lock
from django.core.cache import cache
from django.core.cache.backends.base import DEFAULT_TIMEOUT
from django.core.cache.backends.db import DatabaseCache
from django.db import DatabaseError, connections
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from sites.models import Person
from sites.web import devices
from sites.web.clients import client_group, client_network
from sites.web.journal import digest, note

MINUTE, HOUR, DAY = 60, 3600, 86_400


@dataclass(frozen=True)
class Limit:
    """So many tries within so many seconds."""

    name: str
    amount: int
    seconds: int

    def wait(self, history: list[float], now: float) -> float:
        """Seconds until one more may be tried; 0 when at once. ``history`` has the newest first."""
        counted = [at for at in history if at > now - self.seconds]
        if len(counted) < self.amount:
            return 0.0
        return counted[self.amount - 1] + self.seconds - now


CLIENT = Limit("client", 30, 10 * MINUTE)
PAIR = Limit("account-at-client", 5, 5 * MINUTE)
# Somebody with a network of IPv6 has 65,536 lines of it: for one account they count together.
NETWORK = Limit("account-at-network", 65, HOUR)
# At most 65 an hour come through PAIR from one address, and through NETWORK from one network: neither gets here alone.
ACCOUNT = Limit("account", 100, HOUR)
DEVICE = Limit("device", 5, 5 * MINUTE)
DEVICE_DAY = Limit("device-day", 50, DAY)
# Three codes of a million are right at a time: 30 tries a day find one with a chance of 1 in 11,000.
CODES = Limit("codes", 5, 5 * MINUTE)
CODES_DAY = Limit("codes-day", 30, DAY)
LETTERS_FROM = Limit("letters-from", 20, HOUR)
LETTERS_TO = Limit("letters-to", 5, HOUR)
AT_PASSWORD = (CLIENT, PAIR, NETWORK, ACCOUNT, DEVICE, DEVICE_DAY)

Counted = tuple[Limit, str]


class TooMany(ImmediateHttpResponse):
    """Too often for now. The door answers with the page that says for how long."""

    def __init__(self, request: HttpRequest, limit: Limit, seconds: float):
        self.limit, self.seconds = limit, math.ceil(seconds)
        super().__init__(
            response=too_many(request, seconds=self.seconds, at_password=limit in AT_PASSWORD)
        )


@dataclass
class Taken:
    """Tries that were counted. What came out well is given back, so that only what was wrong counts."""

    counted: list[tuple[Counted, float]] = field(default_factory=list)

    def give_back(self) -> None:
        for (limit, what), at in self.counted:
            key = _key(limit, what)
            with cache_lock(key) as locked:
                if locked:  # without the lock it stays counted, which is only stricter
                    cache.set(key, [one for one in cache.get(key, []) if one != at], limit.seconds)
        self.counted = []


class Counters(DatabaseCache):
    """The table of counters. Nobody can flush it: what still counts is never cleared away to make room, and one
    that cannot be written is an error, not silence."""

    def _cull(self, db, cursor, now, num) -> None:
        connection = connections[db]
        table, expires = (
            connection.ops.quote_name(self._table),
            connection.ops.quote_name("expires"),
        )
        ended = [connection.ops.adapt_datetimefield_value(now)]
        cursor.execute(f"DELETE FROM {table} WHERE {expires} < %s", ended)  # noqa: S608 - no word of it was typed

    def set(self, key, value, timeout=DEFAULT_TIMEOUT, version=None) -> None:
        key = self.make_and_validate_key(key, version=version)
        if not self._base_set("set", key, value, timeout):
            raise DatabaseError("A counter could not be written.")


def take(request: HttpRequest, *counted: Counted) -> Taken:
    """Counts one try at each of these. Raises :class:`TooMany` when one is full; then none is counted."""
    _refuse_full(request, counted)
    taken = Taken()
    for limit, what in counted:
        at, wait = _count(limit, what)
        if wait:
            taken.give_back()
            raise _refused(request, limit, wait)
        taken.counted.append(((limit, what), at))
    return taken


def _refuse_full(request: HttpRequest, counted: tuple[Counted, ...]) -> None:
    """Whoever is shut out costs one query and writes nothing."""
    found, now = cache.get_many([_key(*one) for one in counted]), time.time()
    for limit, what in counted:
        wait = limit.wait(found.get(_key(limit, what), []), now)
        if wait > 0:
            raise _refused(request, limit, wait)


def _refused(request: HttpRequest, limit: Limit, wait: float) -> TooMany:
    note("shut out for a while", request=request, limit=limit.name, seconds=math.ceil(wait))
    return TooMany(request, limit, wait)


def _count(limit: Limit, what: str) -> tuple[float, float]:
    """Counts one try: when it was, and how long to wait if it may not be."""
    key = _key(limit, what)
    with cache_lock(key) as locked:
        now = time.time()
        if not locked:  # a crowd at this very counter
            return now, 1.0
        history = cache.get(key, [])
        allowed, history = apply_rate(history, now, Rate(limit.amount, limit.seconds, "key"))
        if not allowed:
            return now, max(1.0, limit.wait(history, now))
        cache.set(key, history, limit.seconds)
    return now, 0.0


def _key(limit: Limit, what: str) -> str:
    return f"deskwright:{limit.name}:{hashlib.sha256(what.encode()).hexdigest()}"


def for_password(request: HttpRequest, email: str, person: Person | None) -> Taken:
    """Counts a try at an account's password, at whatever door: they share their counters.

    An address without an account is counted as any other: nobody learns from limits who has one.
    """
    if person:
        device = devices.known(request, person)
    else:
        device = ""
    if device:
        return take(request, (DEVICE, device), (DEVICE_DAY, device))
    client, account = client_group(request), digest(email)
    return take(
        request,
        (CLIENT, client),
        (PAIR, f"{account} {client}"),
        (NETWORK, f"{account} {client_network(request)}"),
        (ACCOUNT, account),
    )


def for_code(request: HttpRequest, person: Person) -> Taken:
    """Counts a try at somebody's second factor. Who gets here knows the password, or has the session.

    By the person, whatever letters were brought back: a device gets a counter of its own by a completed sign-in alone.
    """
    what = devices.signed_in_before(request, person) or str(person.pk)
    return take(request, (CODES, what), (CODES_DAY, what))


def for_letter(request: HttpRequest, email: str) -> Taken:
    """Counts a letter that somebody without an account's password asks for, to an address that they name."""
    return take(request, (LETTERS_FROM, client_group(request)), (LETTERS_TO, digest(email)))


def too_many(
    request: HttpRequest,
    exception: Exception | None = None,
    *,
    seconds: int = MINUTE,
    at_password: bool = False,
) -> HttpResponse:
    """The page for whoever tried too often: for how long, and what else they can do. A letter helps at a password
    alone: it gives a counter of passwords, none of codes, and no more letters."""
    if seconds <= MINUTE:
        wait = "a minute"
    else:
        wait = f"{math.ceil(seconds / MINUTE)} minutes"
    if seconds > 2 * HOUR:
        wait = f"{math.ceil(seconds / HOUR)} hours"
    response = render(request, "429.html", {"wait": wait, "at_password": at_password}, status=429)
    response.headers["Retry-After"] = str(seconds)
    return response
