"""Tasks: what the probe asks, from which network, and which checks each answer speaks for."""

from __future__ import annotations

import functools
import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from planner.engine.addresses import ipv4
from planner.engine.addresses.ipv4 import Block
from planner.engine.flows.ends import Ends
from planner.papers.configs.checks import mac as plain_mac
from planner.papers.configs.checks import ordinary, ordinary_block
from planner.papers.configs.names import names as names_of
from planner.papers.configs.words import one_line
from planner.plan import Plan
from planner.record.facts import Appliance, Device, Host, Id, Network, Ref, Server, Service

MOST_TASKS = 1500  # of one network's script: more would take longer than anybody waits
SERVERS_ASKED = 4  # DNS servers of one network
NETWORKS_ASKED = 12  # networks that one check is tried from


@dataclass(frozen=True, slots=True)
class Task:
    """One question, asked from one network.

    ``id`` follows from what is asked and what is expected, so that an answer to an older plan's question counts
    exactly where the question is still the same. ``ask`` is what the script needs beside ``kind``. ``proves`` are
    the keys of the checks it speaks for; where it is ``enough``, its answer alone is as good as all the others'. A
    flow has its port in ``what`` and its target in ``whom``, so that many can be told in one line.
    """

    id: str
    network_id: Id
    kind: str
    words: str
    ask: dict[str, Any]
    proves: tuple[str, ...]
    enough: bool = False
    what: str = ""
    whom: str = ""


@dataclass(frozen=True)
class Probe:
    """Everything the probe can ask at one site, and what it cannot tell.

    ``untold`` says of a check, by its key, what is left to a person; a check that only stands there is not asked
    at all. ``machines`` are the running copies a technician may name: key → (name, how many tasks want it) for
    each network.
    """

    tasks: tuple[Task, ...]
    untold: dict[str, tuple[str, ...]]
    places: dict[Id, Place]
    names: dict[str, str] = field(default_factory=dict)

    @functools.cached_property
    def by_network(self) -> dict[Id, tuple[Task, ...]]:
        """The tasks of each network that has a script, in the order of the plan's networks."""
        found: dict[Id, list[Task]] = {id: [] for id in self.places}
        for task in self.tasks:
            found[task.network_id].append(task)
        return {id: tuple(tasks) for id, tasks in found.items() if tasks}

    @functools.cached_property
    def by_check(self) -> dict[str, tuple[Task, ...]]:
        """The tasks that speak for each check."""
        found: dict[str, list[Task]] = {}
        for task in self.tasks:
            for key in task.proves:
                found.setdefault(key, []).append(task)
        return {key: tuple(tasks) for key, tasks in found.items()}

    @functools.cached_property
    def by_id(self) -> dict[str, Task]:
        return {task.id: task for task in self.tasks}


@dataclass(frozen=True, slots=True)
class Place:
    """A network that a technician can stand in: its subnet is known and is an ordinary one."""

    network: Network
    block: Block
    dns_servers: tuple[str, ...]

    @property
    def gateway(self) -> str:
        gateway = self.network.gateway.strip()
        if self.holds(usable(gateway)):
            return gateway
        return ""

    def holds(self, address: int | None) -> bool:
        return address is not None and address in self.block


def usable(text: str) -> int | None:
    """An address that a machine of a site may have, as a number; ``None`` for any other text."""
    address = ipv4.parse(text.strip())
    if address is not None and ordinary(address):
        return address
    return None


def task_id(network_id: Id, kind: str, ask: dict[str, Any]) -> str:
    said = json.dumps([network_id, kind, ask], sort_keys=True, ensure_ascii=True)
    return hashlib.sha256(said.encode()).hexdigest()[:12]


class Listing:
    """Collects tasks and what stays untold. Keys of checks that do not apply at the site are passed over."""

    def __init__(self, plan: Plan):
        self.plan, self.facts = plan, plan.facts
        self.ends = Ends(plan.facts)
        self.checks = plan.stages.checks
        self.places = dict(_places(plan))
        self._tasks: dict[str, Task] = {}
        self._counts: dict[Id, int] = {}
        self._untold: dict[str, dict[str, None]] = {}
        self._cut: dict[str, int] = {}

    @functools.cached_property
    def whole_names(self) -> dict[Ref, str]:
        """Each record's whole name in DNS, where it has one that stands for its address alone."""
        return {one.ref: one.name for one in names_of(self.plan).named if one.address is not None}

    @functools.cached_property
    def holders(self) -> dict[str, str]:
        """What people call the machine at an address."""
        found: dict[str, str] = {}
        facts = self.facts
        machines: list[Server | Host | Appliance | Service | Device] = [
            *facts.servers,
            *facts.hosts,
            *facts.appliances,
            facts.service,
            *facts.devices,
        ]
        for record in machines:
            if record.address:
                found.setdefault(record.address, record.label)
        for host in facts.hosts:
            found.setdefault(host.out_of_band_address, f"the console of {host.label}")
        return found

    def called(self, address: str) -> str:
        """``harbour-h1 (10.45.1.11)``."""
        holder = self.holders.get(address, "")
        if holder:
            return f"{one_line(holder, 60)} ({address})"
        return address

    def place_of(self, address: int | None) -> Place | None:
        """The smallest network that holds an address."""
        found = [place for place in self.places.values() if place.holds(address)]
        return max(found, key=lambda place: place.block.prefix, default=None)

    def applies(self, key: str) -> bool:
        return key in self.checks

    def add(
        self,
        place: Place,
        kind: str,
        words: str,
        proves: Iterable[str],
        *,
        enough: bool = False,
        what: str = "",
        whom: str = "",
        **ask: Any,
    ) -> None:
        """One more question; the same one again speaks for more checks."""
        keys = tuple(key for key in proves if self.applies(key))
        if not keys:
            return
        network = place.network.id
        id = task_id(network, kind, ask)
        before = self._tasks.get(id)
        if before is not None:
            keys = tuple(dict.fromkeys((*before.proves, *keys)))
            self._tasks[id] = replace(before, proves=keys, enough=enough or before.enough)
        elif self._counts.get(network, 0) >= MOST_TASKS:
            for key in keys:
                self._cut[key] = self._cut.get(key, 0) + 1
        else:
            self._counts[network] = self._counts.get(network, 0) + 1
            self._tasks[id] = Task(
                id, network, kind, one_line(words, 300), ask, keys, enough, what, whom
            )

    def leave(self, key: str, why: str) -> None:
        """Says what of a check the probe cannot tell."""
        if self.applies(key):
            self._untold.setdefault(key, {})[one_line(why, 400)] = None

    def made(self) -> Probe:
        for key, count in self._cut.items():
            self.leave(key, f"{count:,} more questions: one run asks {MOST_TASKS:,} at most")
        untold = {key: tuple(reasons) for key, reasons in self._untold.items()}
        machines = {image.ref.anchor: one_line(image.label, 60) for image in self.facts.images}
        return Probe(tuple(self._tasks.values()), untold, self.places, machines)


def _places(plan: Plan) -> Iterator[tuple[Id, Place]]:
    for network in plan.facts.networks:
        parsed = ipv4.parse_prefix(network.cidr)
        if parsed is None or ordinary_block(parsed[1]):
            continue
        servers = [text.strip() for text in network.dns_servers if usable(text) is not None]
        yield network.id, Place(network, parsed[1], tuple(dict.fromkeys(servers))[:SERVERS_ASKED])


def known_mac(text: str) -> str:
    """A MAC as the neighbour table shows it, "" for none."""
    return plain_mac(text.strip()) or ""
