"""Capacity: what a host offers and what a desktop asks, before anything is placed.

Storage and placement start from here. A host that is a *spare* offers nothing, it stands in the
cupboard; one that is *to buy* counts as if it stood there, and so does one whose state nobody
wrote down.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from planner.catalogue.assumptions import Numbers
from planner.record.choices import HostState
from planner.record.facts import Appliance, Host, Id, SiteFacts, Template

BEYOND = 1e9  # nobody has so many GiB, cores or desktops: such a number is a slip of the keyboard


def known(value: float | None) -> float | None:
    """The number if it can be one (finite, not negative, not absurd), else ``None``."""
    if value is None or not math.isfinite(value) or not 0 <= value <= BEYOND:
        return None
    return value


def positive(value: float | None) -> float | None:
    """As :func:`known`, and nought is not known either."""
    return known(value) or None


def counting_hosts(facts: SiteFacts) -> tuple[Host, ...]:
    """The hosts desktops may be planned on: all but the spare ones."""
    return tuple(host for host in facts.hosts if host.state != HostState.SPARE)


@dataclass(frozen=True, slots=True)
class Offer:
    """What one host offers to desktops; ``None`` where the facts do not say (see ``missing``).

    ``own_gib`` is the hypervisor's, ``appliance_gib`` what the appliances on the host take.
    """

    host_id: Id
    name: str
    memory_gib: float | None
    own_gib: float | None
    appliance_gib: float | None
    gib: float | None
    vcpu: float | None
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Ask:
    """What one desktop of a template asks (memory with its overhead), and how many there may be."""

    template_id: Id
    name: str
    gib: float | None
    vcpu: int | None
    count: int | None
    missing: tuple[str, ...] = ()


def offers(facts: SiteFacts, numbers: Numbers) -> tuple[Offer, ...]:
    """What each counting host offers: memory − the hypervisor's own − its appliances', in GiB, and
    (cores − those kept back) × vCPU a core. The cores kept back serve the appliance too. Never below 0.

    Source of the formula: common practice, no source.
    """
    kept_back, per_core = numbers["host.cores-kept-back"], numbers["host.vcpu-per-core"]
    found = []
    for host, part in memory_of_hosts(facts, numbers):
        cores = positive(host.cores)
        missing = list(part.missing)
        if cores is None:
            missing.insert(0 if part.whole else 1, f"{host.label}: sockets and cores")
        if cores is None:
            vcpu = None
        else:
            vcpu = max(0.0, (cores - kept_back) * per_core)
        gib = (part.whole, part.own, part.appliances, part.free)
        found.append(Offer(host.id, host.label, *gib, vcpu, tuple(missing)))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Memory:
    """A host's memory in GiB: the ``whole``, the hypervisor's ``own``, its ``appliances``', and what is ``free`` for
    desktops; ``None`` where it is not known."""

    whole: float | None
    own: float | None
    appliances: float | None
    free: float | None
    missing: tuple[str, ...]


def memory_of_hosts(facts: SiteFacts, numbers: Numbers) -> list[tuple[Host, Memory]]:
    """The memory of each counting host."""
    flat, share = numbers["host.hypervisor-memory-gib"], numbers["host.hypervisor-memory-share"]
    on_host: dict[Id | None, list[Appliance]] = {}
    for appliance in facts.appliances:
        on_host.setdefault(appliance.host_id, []).append(appliance)
    found = []
    for host in counting_hosts(facts):
        here, whole = on_host.get(host.id, ()), positive(host.memory_gib)
        if whole:
            missing = []
        else:
            missing = [f"{host.label}: memory"]
        unsized = [a.label for a in here if positive(a.memory_gib) is None]
        missing += [f"{label}: memory" for label in unsized]
        if whole is None:
            own = None
        else:
            own = flat + share * whole
        if unsized:
            taken = None
        else:
            taken = float(sum(a.memory_gib or 0 for a in here))
        free = None
        if whole is not None and own is not None and taken is not None:
            free = max(0.0, whole - own - taken)
        found.append((host, Memory(whole, own, taken, free, tuple(missing))))
    return found


def asks(facts: SiteFacts, numbers: Numbers) -> tuple[Ask, ...]:
    """What a desktop of each template asks. A template whose *most* is 0 asks nothing and misses nothing."""
    overhead = numbers["desktop.memory-overhead-gib"]
    found = []
    for template in facts.templates:
        memory, vcpu, most = (
            positive(template.memory_gib),
            positive(template.vcpu),
            known(template.most),
        )
        missing = []
        if most is None:
            missing.append(f"{template.label}: most")
        if most != 0:
            missing += [
                f"{template.label}: {word}"
                for word, value in (("memory", memory), ("vCPU", vcpu))
                if not value
            ]
        found.append(
            Ask(
                template.id,
                template.label,
                None if memory is None else memory + overhead,
                None if vcpu is None else int(vcpu),
                None if most is None else int(most),
                tuple(missing),
            )
        )
    return tuple(found)


def desktop_disk_gib(template: Template, numbers: Numbers) -> float | None:
    """Disk one desktop takes in GiB: growth of its difference disk and swap for memory not reserved."""
    growth, swap = known(template.growth_gib), swap_gib(template.memory_gib, numbers)
    if growth is None or swap is None:
        return None
    return growth + swap


def swap_gib(memory_gib: float | None, numbers: Numbers) -> float | None:
    """Swap space of a running machine in GiB: its memory that is not reserved."""
    memory = positive(memory_gib)
    if memory is None:
        return None
    return memory * (1 - numbers["desktop.memory-reserved-share"])
