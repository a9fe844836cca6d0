"""The same morning as a model of processes: people, desktops and build slots, one event after another.

It follows the rules that stand in planner/engine/surge/{builds,handouts}.py and shares none of their code:
a person is a process, a template's ready desktops are a store, builds stand in a line.
Source: SimPy, process-based discrete-event simulation (simpy.Store serves those who ask in turn).
"""

from __future__ import annotations

import math

import simpy


class Hosts:
    """Builds one desktop after another, some at once on each host."""

    def __init__(
        self, env: simpy.Environment, count: int, slots: int, seconds: float, slowdown: float
    ):
        self.env, self.slots, self.seconds, self.slowdown = env, slots, seconds, slowdown
        self.under_way = [0] * count
        self.line: list[tuple] = []

    def ask(self, hosts, done) -> None:
        """One more desktop, on one of the ``hosts`` (a truth value each); ``done()`` when it is ready."""
        self.line.append((hosts, done))
        self.env.process(self._look_soon())

    def _look_soon(self):
        yield self.env.timeout(0)  # builds that end now have ended by then
        for job in list(self.line):
            open_hosts = [
                at for at, may in enumerate(job[0]) if may and self.under_way[at] < self.slots
            ]
            if open_hosts:
                self.line.remove(job)
                host = min(open_hosts, key=lambda at: (self.under_way[at], at))
                self.env.process(self._build(host, self.under_way[host], job[1]))
                self.under_way[host] += 1

    def _build(self, host: int, others: int, done):
        yield self.env.timeout(self.seconds * (1 + self.slowdown * others))
        self.under_way[host] -= 1
        done()
        yield self.env.process(self._look_soon())


class Desktops:
    """One template: what stands ready, how many exist, what becomes of a desktop after the sign-out."""

    def __init__(
        self,
        env,
        hosts: Hosts,
        *,
        standby: int,
        most: int,
        back: str,
        may: tuple[bool, ...],
        ends: float,
    ):
        self.env, self.hosts, self.most, self.back, self.may, self.ends = (
            env,
            hosts,
            most,
            back,
            may,
            ends,
        )
        self.ready = simpy.Store(env)
        self.exist = min(standby, most)
        for _ in range(self.exist):
            self.ready.put("desktop")

    def build(self) -> None:
        self.hosts.ask(self.may, lambda: self.ready.put("desktop"))

    def person(self, arrives: float, stays: float, told: list[float], number: int):
        yield self.env.timeout(arrives)
        if self.exist < self.most:
            self.exist += 1
            self.build()
        yield self.ready.get()
        told[number] = self.env.now
        yield self.env.timeout(stays)
        if self.back == "stays" or self.env.now > self.ends:
            return
        if self.back == "at once":
            self.ready.put("desktop")
        else:
            self.build()


def one_run(stocks, ground, ends: float, arrivals, sessions) -> list[list[float]]:
    """When each person of each stock is handed a desktop; ``inf``: never. ``arrivals`` and ``sessions`` are
    lists of times a stock, in order of arrival; ``ground`` is (hosts, slots, seconds, slowdown)."""
    env = simpy.Environment()
    hosts = Hosts(env, *ground)
    told = []
    for stock, times, lengths in zip(stocks, arrivals, sessions, strict=True):
        desktops = Desktops(
            env,
            hosts,
            standby=stock.standby or 0,
            most=stock.most,
            back=stock.back,
            may=stock.hosts,
            ends=ends,
        )
        given = [math.inf] * len(times)
        for number, (arrives, stays) in enumerate(zip(times, lengths, strict=True)):
            env.process(desktops.person(arrives, stays, given, number))
        told.append(given)
    env.run()
    return told
