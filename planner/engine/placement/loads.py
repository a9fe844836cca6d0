"""What each host carries: a placement in whole numbers, told in the plan's own words and units."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from planner.engine.placement import packing
from planner.engine.placement.capacity import Ask, Offer
from planner.record.choices import Choice
from planner.record.facts import Id


class Resource(Choice):
    """What may run out; nothing can be said where it is unknown."""

    MEMORY = "memory"
    VCPU = "vcpu", "vCPU"
    DISK = "disk", "disk space"
    UNKNOWN = ""


@dataclass(frozen=True, slots=True)
class HostLoad:
    """What one host offers and carries. Memory and disk in GiB; ``None`` where it is not known.

    ``offers_disk_gib`` is the room on the datastore ``store_id``, which other hosts may share.
    ``binds`` is what runs out first as more desktops of the plan's mix are placed.
    """

    host_id: Id
    name: str
    memory_gib: float | None
    own_gib: float | None
    appliance_gib: float | None
    offers_gib: float | None
    offers_vcpu: float | None
    offers_disk_gib: float | None
    store_id: Id | None = None
    desktops: dict[Id, int] = field(default_factory=dict)
    used_gib: float = 0.0
    used_vcpu: int = 0
    used_disk: float | None = None
    binds: Resource = Resource.UNKNOWN

    @property
    def count(self) -> int:
        return sum(self.desktops.values())


@dataclass(frozen=True)
class Sizes:
    """The problem in whole numbers, and how to get back: ``members`` are the templates of each class by name,
    ``stores`` each host's datastore and the room there, ``disk`` a desktop's disk by template, in the templates'
    order."""

    problem: packing.Problem
    offers: tuple[Offer, ...]
    members: tuple[tuple[Ask, ...], ...]
    stores: tuple[tuple[Id | None, float | None], ...]
    disk: dict[Id, float | None]
    unchecked: tuple[str, ...] = ()

    def left(self, placed: tuple[tuple[int, ...], ...]) -> dict[Id, int]:
        """Desktops of each template that are not placed; of one class those go without that are last by name."""
        found: dict[Id, int] = {}
        for group, row in zip(self.members, placed, strict=True):
            room = sum(row)
            for ask in group:
                here = min(ask.count or 0, room)
                room -= here
                if (ask.count or 0) > here:
                    found[ask.template_id] = (ask.count or 0) - here
        return self.as_they_stand(found)

    def as_they_stand(self, found: dict[Id, int]) -> dict[Id, int]:
        """Numbers by template, in the templates' order."""
        return {id: found[id] for id in self.disk if id in found}

    def gib_of(self, desktops: dict[Id, int]) -> float:
        """Memory so many desktops of each template ask."""
        return sum(
            desktops.get(ask.template_id, 0) * (ask.gib or 0.0)
            for group in self.members
            for ask in group
        )

    def vcpu_of(self, desktops: dict[Id, int]) -> int:
        return sum(
            desktops.get(ask.template_id, 0) * (ask.vcpu or 0)
            for group in self.members
            for ask in group
        )


def most_bind(loads: tuple[HostLoad, ...]) -> Resource:
    """What runs out first on most hosts."""
    found = [load.binds for load in loads if load.binds]
    if found:
        return max(Resource, key=found.count)
    return Resource.UNKNOWN


def loads_of(
    sizes: Sizes, placed: tuple[tuple[int, ...], ...], without: Id | None = None
) -> tuple[HostLoad, ...]:
    """Every host's load, but the one ``without``; ``placed`` is [class][host], without that host too.

    With nothing placed (``()``), what the hosts offer.
    """
    gone = next(
        (at for at, offer in enumerate(sizes.offers) if offer.host_id == without), None
    )  # one, even of twins
    ats = [at for at in range(len(sizes.offers)) if at != gone]
    carried: list[dict[Id, int]] = [{} for _ in ats]
    for group, row in zip(sizes.members, placed, strict=False):
        _share_out(group, row, carried)
    carried = [sizes.as_they_stand(desktops) for desktops in carried]
    asks = {ask.template_id: ask for group in sizes.members for ask in group}
    pool_used: dict[Id | None, float] = {}
    rows = []
    for at, desktops in zip(ats, carried, strict=True):
        sized = [
            (count, asks[template_id], sizes.disk.get(template_id))
            for template_id, count in desktops.items()
        ]
        if any(size is None for _, _, size in sized):
            disk = None
        else:
            disk = sum(count * (size or 0.0) for count, _, size in sized)
        store_id = sizes.stores[at][0]
        pool_used[store_id] = pool_used.get(store_id, 0.0) + (disk or 0.0)
        used = (
            sum(count * (ask.gib or 0) for count, ask, _ in sized),
            sum(count * (ask.vcpu or 0) for count, ask, _ in sized),
        )
        rows.append((at, desktops, *used, disk))
    typical = _typical(sizes)
    return tuple(
        _load(sizes, at, desktops, gib, vcpu, disk, pool_used[sizes.stores[at][0]], typical)
        for at, desktops, gib, vcpu, disk in rows
    )


def _share_out(group: tuple[Ask, ...], row: tuple[int, ...], carried: list[dict[Id, int]]) -> None:
    """Deals a class's places to its templates, by name."""
    waiting: Iterator[list[int]] = iter([ask.template_id, ask.count or 0] for ask in group)
    current = next(waiting, None)
    for at, count in enumerate(row):
        while count and current is not None:
            here = min(count, current[1])
            if here:
                carried[at][current[0]] = carried[at].get(current[0], 0) + here
            count -= here
            current[1] -= here
            if not current[1]:
                current = next(waiting, None)


def _typical(sizes: Sizes) -> tuple[float, float, float]:
    """What the average desktop of the plan asks: GiB, vCPU, GiB of disk."""
    counted = [
        (ask.count or 0, ask, sizes.disk.get(ask.template_id))
        for group in sizes.members
        for ask in group
    ]
    total = sum(count for count, _, _ in counted) or 1
    return (
        sum(count * (ask.gib or 0.0) for count, ask, _ in counted) / total,
        sum(count * (ask.vcpu or 0) for count, ask, _ in counted) / total,
        sum(count * (disk or 0.0) for count, _, disk in counted) / total,
    )


def _load(
    sizes: Sizes,
    at: int,
    desktops: dict[Id, int],
    gib: float,
    vcpu: int,
    disk: float | None,
    pool_used: float,
    typical: tuple[float, float, float],
) -> HostLoad:
    offer, (store_id, room) = sizes.offers[at], sizes.stores[at]
    left = {
        Resource.MEMORY: None
        if offer.gib is None or not typical[0]
        else (offer.gib - gib) / typical[0],
        Resource.VCPU: None
        if offer.vcpu is None or not typical[1]
        else (offer.vcpu - vcpu) / typical[1],
        Resource.DISK: None
        if sizes.problem.bins[at].pool < 0 or not typical[2]
        else ((room or 0.0) - pool_used) / typical[2],
    }
    told = {one: value for one, value in left.items() if value is not None}
    known_binds = offer.gib is not None and offer.vcpu is not None and told
    return HostLoad(
        host_id=offer.host_id,
        name=offer.name,
        memory_gib=offer.memory_gib,
        own_gib=offer.own_gib,
        appliance_gib=offer.appliance_gib,
        offers_gib=offer.gib,
        offers_vcpu=offer.vcpu,
        offers_disk_gib=room,
        store_id=store_id,
        desktops=desktops,
        used_gib=gib,
        used_vcpu=vcpu,
        used_disk=disk,
        binds=min(told, key=lambda one: told[one]) if known_binds else Resource.UNKNOWN,
    )
