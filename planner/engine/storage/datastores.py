"""Storage: what lies on each datastore, how much stays free, how fast it is.

Decisions where the facts leave room
- The desktops of a host live on the largest of its own local datastores; on the largest shared
  one when it has none of its own (the first named, where no size is known).
- Every image that a template uses is on every host that counts, as its own copies, on a shared
  datastore too: that is how a host starts desktops without asking another.
- Where hosts keep their desktops on different datastores, each host is given desktops in
  proportion to the memory it offers, rounded up. (Placement says where they really fit.)
- A thin datastore holds of an image what is used, a thick one what is provisioned.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from planner.catalogue.assumptions import Numbers
from planner.engine.placement import capacity
from planner.engine.placement.capacity import known, positive
from planner.engine.storage.disks import (
    RAID_LEAST,
    RAID_PAIRS,
    back_end,
    days_until_full,
    disk_operations,
    front_end,
    gb_to_gib,
    raid_usable_disks,
)
from planner.record.choices import Provisioning, ResetRule, Sharing
from planner.record.facts import Appliance, Datastore, Id, Image, SiteFacts, Template

__all__ = [
    "RAID_LEAST",
    "RAID_PAIRS",
    "Storage",
    "StoreUse",
    "back_end",
    "days_until_full",
    "disk_operations",
    "front_end",
    "gb_to_gib",
    "raid_usable_disks",
    "usable_gib",
    "work_out",
]


@dataclass(frozen=True)
class StoreUse:
    """One datastore: sizes in GiB, operations a second. ``None`` where ``missing`` says why.

    ``parts`` are what lies on it, by word; ``promised_gib`` is what it comes to when every thin
    disk is full; ``room_gib`` is what desktops may take of it once all else and the free share are
    kept; ``operations_asked`` is what the desktops there ask while all work; ``days_until_full``
    counts from the planned state, and is ``None`` too when it never fills.
    """

    datastore_id: Id
    name: str
    thin: bool
    host_ids: tuple[Id, ...]  # hosts whose desktops live here
    usable_gib: float | None
    planned_gib: float | None
    parts: tuple[tuple[str, float], ...]
    free_share: float | None
    promised_gib: float | None
    room_gib: float | None
    operations_raw: float | None
    operations_front: float | None
    operations_asked: float | None
    days_until_full: float | None
    desktops: tuple[tuple[Id, int], ...]  # template and how many are planned here
    missing: tuple[str, ...]


@dataclass(frozen=True)
class Storage:
    """Every datastore of a site. ``homes`` says on which datastore each host keeps its desktops."""

    stores: tuple[StoreUse, ...] = ()
    homes: tuple[tuple[Id, Id | None], ...] = ()
    missing: tuple[str, ...] = ()

    def store(self, datastore_id: Id | None) -> StoreUse | None:
        return next((store for store in self.stores if store.datastore_id == datastore_id), None)

    def home(self, host_id: Id | None) -> Id | None:
        """The datastore a host's desktops live on."""
        if host_id is not None:
            return dict(self.homes).get(host_id)
        return None


def usable_gib(store: Datastore) -> float | None:
    """Space an array gives in GiB, before anything is on it; ``None`` when it cannot be known."""
    disks, size = (
        raid_usable_disks(store.raid, store.disks, store.hot_spares),
        positive(store.disk_gb),
    )
    if not disks or size is None:
        return None
    return known(disks * gb_to_gib(size))


def is_local(store: Datastore) -> bool:
    return store.sharing == Sharing.LOCAL or (
        store.sharing != Sharing.SHARED and store.host_id is not None
    )


def homes(facts: SiteFacts) -> dict[Id, Id | None]:
    """On which datastore each counting host keeps its desktops; ``None`` when it has none."""

    def largest(stores: list[Datastore]) -> Id | None:
        if stores:
            return max(stores, key=lambda store: usable_gib(store) or 0.0).id
        return None

    shared = largest([store for store in facts.datastores if store.sharing == Sharing.SHARED])
    local: dict[Id | None, list[Datastore]] = {}
    for store in facts.datastores:
        if is_local(store):
            local.setdefault(store.host_id, []).append(store)
    return {
        host.id: largest(local.get(host.id, [])) or shared
        for host in capacity.counting_hosts(facts)
    }


def work_out(facts: SiteFacts, numbers: Numbers) -> Storage:
    """What lies on every datastore. Never raises; one pass over the facts."""
    home = homes(facts)
    shares, lacking = _shares(facts, numbers, home)
    appliances: dict[Id | None, list[Appliance]] = {}
    named = {store.id for store in facts.datastores}
    for appliance in facts.appliances:
        at = (
            appliance.datastore_id
            if appliance.datastore_id in named
            else home.get(appliance.host_id or 0)
        )
        appliances.setdefault(at, []).append(appliance)
    hosts: dict[Id | None, list[Id]] = {}
    for host_id, store_id in home.items():
        hosts.setdefault(store_id, []).append(host_id)
    desk = _Desk(facts, numbers)
    stores = tuple(
        _store(
            store,
            desk,
            tuple(hosts.get(store.id, ())),
            shares.get(store.id),
            lacking,
            appliances.get(store.id, []),
        )
        for store in facts.datastores
    )
    adrift = tuple(
        f"{appliance.label}: host or datastore" for appliance in appliances.get(None, ())
    )
    return Storage(stores, tuple(home.items()), adrift)


def _shares(
    facts: SiteFacts, numbers: Numbers, home: dict[Id, Id | None]
) -> tuple[dict[Id | None, float], tuple[str, ...]]:
    """The share of all desktops each datastore carries, and what is missing to know it."""
    used = {store_id for store_id in home.values() if store_id is not None}
    if len(used) == 1 and None not in home.values():
        whole: dict[Id | None, float] = dict.fromkeys(used, 1.0)
        return whole, ()
    hosts = capacity.memory_of_hosts(facts, numbers)
    lacking = tuple(line for _, memory in hosts if memory.free is None for line in memory.missing)
    if lacking:
        return {}, lacking
    total = sum(memory.free or 0.0 for _, memory in hosts)
    shares: dict[Id | None, float] = {}
    for host, memory in hosts:
        if total:
            part = (memory.free or 0.0) / total
        else:
            part = 0.0
        shares[home[host.id]] = shares.get(home[host.id], 0.0) + part
    return shares, ()


class _Desk:
    """What every datastore needs to know of images and desktops, looked up once."""

    def __init__(self, facts: SiteFacts, numbers: Numbers):
        self.numbers = numbers
        self.templates = [template for template in facts.templates if known(template.most) != 0]
        self.by_id = {image.id: image for image in facts.images}
        wanted = {template.image_id for template in self.templates}
        self.images = [image for image in facts.images if image.id in wanted]

    def image_of(self, template: Template) -> Image | None:
        if template.image_id is not None:
            return self.by_id.get(template.image_id)
        return None

    def left_to_grow(self, template: Template) -> float:
        """How much a thin difference disk may still grow beyond what is planned, in GiB."""
        image = self.image_of(template)
        if image is not None:
            whole = positive(image.disk_gib)
        else:
            whole = None
        return max(0.0, (whole or 0.0) - (known(template.growth_gib) or 0.0))


class _Tally:
    """Adds up sizes; a size nobody knows is noted, and makes the sum unknown."""

    def __init__(self) -> None:
        self.parts: dict[str, float] = {}
        self.promised = 0.0
        self.missing: dict[str, None] = {}

    def add(
        self, word: str, gib: float | None, of: str, promised: float | None = None, times: float = 1
    ) -> None:
        if gib is None:
            self.missing[of] = None
            return
        self.parts[word] = self.parts.get(word, 0.0) + gib * times
        self.promised += (gib if promised is None else max(promised, gib)) * times

    @property
    def total(self) -> float:
        return sum(self.parts.values())


def _store(
    store: Datastore,
    desk: _Desk,
    host_ids: tuple[Id, ...],
    share: float | None,
    lacking: tuple[str, ...],
    appliances: list[Appliance],
) -> StoreUse:
    """One datastore: what must lie there whatever happens, then the desktops, then what that leaves."""
    numbers, thin = desk.numbers, store.provisioning == Provisioning.THIN
    usable, fixed, moving = usable_gib(store), _Tally(), _Tally()
    _add_images(fixed, desk, thin, len(host_ids))
    for appliance in appliances:
        fixed.add("appliances", positive(appliance.disk_gib), f"{appliance.label}: disk")
        fixed.add(
            "swap", capacity.swap_gib(appliance.memory_gib, numbers), f"{appliance.label}: memory"
        )
    fixed.add("others", known(store.others_gib), f"{store.label}: space others use")
    desktops: dict[Id, int] = {}
    if host_ids and lacking:
        moving.missing.update(dict.fromkeys(lacking))
    elif host_ids:
        desktops = _add_desktops(moving, desk, thin, share or 0.0)
    missing = [*fixed.missing, *moving.missing]
    if missing:
        planned = None
    else:
        planned = fixed.total + moving.total
    if missing:
        promised = None
    else:
        promised = fixed.promised + moving.promised
    room = None
    if usable is not None and not fixed.missing:
        room = max(0.0, usable * (1 - numbers["storage.free-share"]) - fixed.total)
    if usable is None:
        missing.append(f"{store.label}: RAID level, disks or disk size")
    raw, front = _operations(store, numbers)
    all_counted = bool(desktops) and len(desktops) == len(desk.templates)
    return StoreUse(
        datastore_id=store.id,
        name=store.label,
        thin=thin,
        host_ids=host_ids,
        usable_gib=usable,
        planned_gib=planned,
        parts=_parts(fixed, moving),
        free_share=None if planned is None or usable is None else (usable - planned) / usable,
        promised_gib=promised,
        room_gib=room,
        operations_raw=raw,
        operations_front=front,
        operations_asked=sum(desktops.values()) * numbers.aside()["desktop.operations"]
        if all_counted
        else None,
        days_until_full=_days(desk, thin, usable, planned, promised, desktops),
        desktops=tuple(desktops.items()),
        missing=tuple(dict.fromkeys(missing)),
    )


def _parts(*tallies: _Tally) -> tuple[tuple[str, float], ...]:
    """What lies on a datastore, by word, in a fixed order."""
    words = ("images", "image being copied", "desktops", "swap", "appliances", "others")
    sums = ((word, sum(tally.parts.get(word, 0.0) for tally in tallies)) for word in words)
    return tuple((word, gib) for word, gib in sums if gib)


def _add_images(tally: _Tally, desk: _Desk, thin: bool, hosts: int) -> None:
    """Images × generations on every host, and room for the largest ones while new ones are copied."""
    if not hosts:
        return
    sizes = []
    for image in desk.images:
        whole = positive(image.disk_gib)
        if thin:
            size = positive(image.used_gib) or whole
        else:
            size = whole
        tally.add(
            "images",
            size,
            f"{image.label}: disk",
            whole,
            hosts * desk.numbers["image.generations-kept"],
        )
        if size is not None:
            sizes.append((size, whole))
    sizes.sort(key=lambda pair: pair[0], reverse=True)
    for size, whole in sizes[: int(known(desk.numbers["image.copied-at-once"]) or 0)]:
        tally.add("image being copied", size, "", whole, hosts)


def _add_desktops(tally: _Tally, desk: _Desk, thin: bool, share: float) -> dict[Id, int]:
    """Difference disks and swap of this datastore's share of every template's desktops, which it counts."""
    desktops: dict[Id, int] = {}
    for template in desk.templates:
        most = known(template.most)
        if most is None:
            tally.missing[f"{template.label}: most"] = None
            continue
        count = math.ceil(most * share - 1e-9)
        desktops[template.id] = count
        image = desk.image_of(template)
        if image is not None and thin:
            whole = positive(image.disk_gib)
        else:
            whole = None
        tally.add("desktops", known(template.growth_gib), f"{template.label}: growth", whole, count)
        swap = capacity.swap_gib(template.memory_gib, desk.numbers)
        tally.add("swap", swap, f"{template.label}: memory", None, count)
    return desktops


def _operations(store: Datastore, numbers: Numbers) -> tuple[float | None, float | None]:
    """What the disks do, and what their users get of it, in operations a second."""
    each = positive(store.disk_operations)
    if each is None or not raid_usable_disks(store.raid, store.disks, store.hot_spares):
        return None, None
    raw = known(((store.disks or 0) - (store.hot_spares or 0)) * each)
    if raw is None:
        return None, None
    return raw, front_end(raw, numbers.aside()["storage.write-share"], store.raid)


def _days(
    desk: _Desk,
    thin: bool,
    usable: float | None,
    planned: float | None,
    promised: float | None,
    desktops: dict[Id, int],
) -> float | None:
    """Days from the planned state until a thin datastore is full: kept desktops grow every day.

    ``None`` when it cannot be told, and when what is promised fits anyway.
    """
    if not thin or usable is None or planned is None or promised is None or promised <= usable:
        return None
    growing = [
        (desk.left_to_grow(one), desktops.get(one.id, 0))
        for one in desk.templates
        if one.reset_rule == ResetRule.KEPT
    ]
    each_day = desk.numbers.aside()["desktop.kept-growth-gib-a-day"]
    return days_until_full(usable - planned, growing, each_day)
