"""DHCP clients and a server, event by event: how many leases are held when most are.

The clients do as RFC 2131 says: one that is new discovers and takes a lease; it renews when half of it is
over (§4.4.5), and when it starts anew (§4.3.2). The server extends what it knows, and forgets a lease when it has
run out and its grace is over. A desktop that is rebuilt is a new client: nobody renews the old one's lease,
and nobody gives it back. Times are in seconds. Nothing of the planner is imported here.
"""

from __future__ import annotations

import heapq
import itertools
import random
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field

MINUTE, HOUR, DAY, WEEK = 60, 3600, 86_400, 604_800
TICK = 0.001  # what lies no further apart is the same moment: sums of fractions differ by less


@dataclass
class Crowd:
    """People on one pool of desktops: when they come (seconds after midnight, None: nobody knows)."""

    people: int
    sign_outs: int  # a day, all of them together
    comes: int | None = None


@dataclass
class Pool:
    """Desktops of one kind. ``reset`` is kept, nightly, weekly or sign-out."""

    reset: str
    desktops: int
    crowds: list[Crowd] = field(default_factory=list)


@dataclass
class Place:
    """A network with its pools, and what its people and its one host do."""

    pools: list[Pool]
    lease: int
    grace: int = 0
    others: int = 0
    day: int = 8 * HOUR  # from coming to leaving
    weekdays: tuple[int, ...] = (0, 1, 2, 3, 4, 5, 6)
    leaving: int = HOUR  # the last people of a session leave within it
    host: tuple[int, float, float] | None = None  # builds together, seconds of one alone, slowdown
    night: int = 0  # when the nightly reset begins, seconds after midnight
    weekend: int = 0  # when the weekly one does, seconds after Monday's midnight
    unknown: dict[int, int] = field(
        default_factory=dict
    )  # by crowd (its id): when it comes after all


class Server:
    """Hands out leases of ``addresses`` (None: as many as are asked for) and counts those it holds."""

    def __init__(self, lease: int, grace: int, addresses: int | None = None):
        self.lease, self.grace, self.addresses = lease, grace, addresses
        self.held: dict[int, float] = {}  # client: when it runs out
        self.over: list[tuple[float, int]] = []
        self.peak, self.peak_at, self.refused = 0, 0.0, 0

    def ask(self, client: int, now: float) -> bool:
        """A client discovers, renews or starts anew; whether it has an address then."""
        until = now + TICK
        while self.over and self.over[0][0] <= until:
            end, gone = heapq.heappop(self.over)
            ends = self.held.get(gone)
            if ends is None:
                continue
            if ends + self.grace <= until:
                del self.held[gone]
            elif ends + self.grace > end:
                heapq.heappush(self.over, (ends + self.grace, gone))
        known = client in self.held
        if not known and self.addresses is not None and len(self.held) >= self.addresses:
            self.refused += 1
            return False
        self.held[client] = now + self.lease
        if not known:
            heapq.heappush(self.over, (now + self.lease + self.grace, client))
            if len(self.held) > self.peak:
                self.peak, self.peak_at = len(self.held), now
        return True


class Play:
    """Several weeks of a place. ``worst``: each desktop runs, and starts anew, until its successor is ready, and
    each reset and each crowd has the host for itself; else a desktop goes when its build begins, they wait for each
    other, and some start anew and some do not, by ``chance``."""

    def __init__(self, place: Place, *, worst: bool, addresses: int | None = None, chance: int = 0):
        self.place, self.worst, self.random = place, worst, random.Random(chance)
        self.server = Server(place.lease, place.grace, addresses)
        self.events: list[tuple[float, int, Callable[[float], None]]] = []
        self.order, self.clients = itertools.count(), itertools.count()
        self.alive: set[int] = set()
        self.running: list[deque[int]] = [deque() for _ in place.pools]
        self.hosts: dict[object, Host] = {}
        self.weeks = -(-(place.lease + place.grace) // WEEK) + 2

    def at(self, when: float, what: Callable[[float], None]) -> None:
        heapq.heappush(self.events, (when, next(self.order), what))

    def run(self) -> Server:
        for _ in range(self.place.others):
            self.start(0.0, None)
        for number, pool in enumerate(self.place.pools):
            for _ in range(pool.desktops):
                self.start(0.0, number)
            self.plan(number, pool)
        end = self.weeks * WEEK
        while self.events and self.events[0][0] <= end:
            when, _, what = heapq.heappop(self.events)
            what(when)
        return self.server

    # -- a client

    def start(self, now: float, pool: int | None) -> None:
        """A machine nobody knew before asks for an address."""
        client = next(self.clients)
        self.alive.add(client)
        if pool is not None:
            self.running[pool].append(client)
        self.request(client, now)

    def request(self, client: int, now: float) -> None:
        if client not in self.alive:
            return
        given = self.server.ask(client, now)
        wait = self.place.lease / 2 if given else 10.0
        self.at(now + wait, lambda then: self.request(client, then))

    def stop(self, now: float, pool: int) -> None:
        """The desktop that has run longest goes for good, its lease stays."""
        if self.running[pool]:
            client = self.running[pool].popleft()
            if client in self.server.held and (self.worst or self.random.random() < 0.5):
                self.server.ask(client, now)
            self.alive.discard(client)

    # -- when desktops are rebuilt

    def plan(self, number: int, pool: Pool) -> None:
        place = self.place
        if pool.reset in ("nightly", "weekly"):
            step = DAY if pool.reset == "nightly" else WEEK
            begin = place.night if pool.reset == "nightly" else place.weekend
            for night in range(0, self.weeks * WEEK, step):
                self.at(night + begin, lambda now: self.rebuild(now, number, pool.desktops))
        if pool.reset == "sign-out":
            for crowd in pool.crowds:
                for day in range(self.weeks * 7):
                    if day % 7 in place.weekdays:
                        for when in self.leave(crowd, pool):
                            self.at(
                                day * DAY + when,
                                lambda now, c=crowd: self.rebuild(now, number, 1, c),
                            )

    def leave(self, crowd: Crowd, pool: Pool) -> list[float]:
        """When the people of a crowd sign out on one day: session after session, the last ones fullest."""
        seats, left, sessions = min(crowd.people, pool.desktops), crowd.sign_outs, []
        while left > 0 and seats:
            sessions.insert(0, min(seats, left))
            left -= seats
        comes = self.place.unknown.get(id(crowd), 0) if crowd.comes is None else crowd.comes
        found: list[float] = []
        for number, people in enumerate(sessions):
            length = self.place.day / len(sessions)
            over = comes + length * (number + 1)
            within = min(self.place.leaving, length)
            found += [over - within * (people - 1 - one) / people for one in range(people)]
        return found

    def rebuild(self, now: float, pool: int, count: int, crowd: Crowd | None = None) -> None:
        reset = self.place.pools[pool].reset
        whose = (id(crowd) if crowd else reset) if self.worst else None
        host = self.hosts.setdefault(whose, Host(self))
        host.waiting += [pool] * count
        # those of the same moment come first, so that the host sees them all
        self.at(now, host.work)


class Host:
    """Builds a few desktops together, and the next few when those are done."""

    def __init__(self, play: Play):
        self.play, self.waiting, self.busy = play, deque(), False

    def work(self, now: float) -> None:
        if self.busy or not self.waiting:
            return
        play = self.play
        together, seconds, slowdown = play.place.host or (len(self.waiting), 0.0, 0.0)
        pools = [self.waiting.popleft() for _ in range(min(together, len(self.waiting)))]
        if not play.worst:
            for pool in pools:
                play.stop(now, pool)
        self.busy = True
        took = seconds * (1 + slowdown * (len(pools) - 1))

        def ready(then: float) -> None:
            for pool in pools:
                if play.worst:
                    play.stop(then, pool)
                play.start(then, pool)
            self.busy = False
            self.work(then)

        if took:
            play.at(now + took, ready)
        else:
            ready(now)


def busiest(place: Place) -> int:
    """The most leases held when all falls together as badly as it may: the hours nobody knows are set so that
    each one's busiest moment is that of those whose hours are known."""
    from dataclasses import replace

    def alone(pools: list[Pool]) -> float:
        play = Play(replace(place, pools=pools, others=0), worst=True)
        return play.run().peak_at

    known, free = [], []
    for pool in place.pools:
        if pool.reset == "sign-out":
            told = [one for one in pool.crowds if one.comes is not None]
            known += [Pool("sign-out", pool.desktops, told)] if told else []
            free += [(pool, one) for one in pool.crowds if one.comes is None]
    moment = alone(known) if known else 20 * HOUR + 5 * DAY
    for pool, crowd in free:
        own = alone([Pool("sign-out", pool.desktops, [crowd])])
        place.unknown[id(crowd)] = int(moment - own) % DAY
    for reset, field_, step in (("nightly", "night", DAY), ("weekly", "weekend", WEEK)):
        own_pools = [pool for pool in place.pools if pool.reset == reset]
        if own_pools:
            own = alone(own_pools)
            begins = getattr(place, field_) + moment - own
            place = replace(place, **{field_: begins % step})
    return Play(place, worst=True).run().peak
