"""Findings about datastores: what they are made of, how full they get, how fast they are."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from planner.engine.placement.capacity import counting_hosts, known, positive
from planner.engine.storage.datastores import (
    RAID_LEAST,
    RAID_PAIRS,
    StoreUse,
    is_local,
    raid_usable_disks,
)
from planner.record import units
from planner.record.choices import Raid
from planner.record.facts import Datastore
from planner.review.base import Hit, Mend, rule
from planner.review.words import and_list
from planner.stages.staged import Staged


def _used(plan: Staged) -> Iterator[tuple[Datastore, StoreUse]]:
    yield from zip(plan.facts.datastores, plan.storage.stores, strict=True)


@rule("datastore-none")
def none(plan: Staged) -> Iterator[Hit]:
    for host in counting_hosts(plan.facts):
        if plan.storage.home(host.id) is None:
            yield Hit(host.ref, host=host.label)


@rule("datastore-sharing-unknown")
def sharing_unknown(plan: Staged) -> Iterator[Hit]:
    for store in plan.facts.datastores:
        if not store.sharing and store.host_id is None:
            yield Hit(store.ref.at("sharing"), store=store.label)


@rule("datastore-local-nowhere")
def local_nowhere(plan: Staged) -> Iterator[Hit]:
    for store in plan.facts.datastores:
        if is_local(store) and store.host_id is None:
            yield Hit(store.ref.at("host_id"), store=store.label)


@rule("datastore-spares-exceed")
def spares_exceed(plan: Staged) -> Iterator[Hit]:
    for store in plan.facts.datastores:
        if _spares_exceed(store):
            yield Hit(
                store.ref.at("hot_spares"),
                also=(store.ref.at("disks"),),
                store=store.label,
                spares=store.hot_spares,
                disks=store.disks,
            )


def _spares_exceed(store: Datastore) -> bool:
    return bool(store.disks and store.hot_spares and store.hot_spares >= store.disks)


@rule("datastore-raid-impossible")
def raid_impossible(plan: Staged) -> Iterator[Hit]:
    for store in plan.facts.datastores:
        if store.raid not in RAID_LEAST or store.disks is None or _spares_exceed(store):
            continue
        if raid_usable_disks(store.raid, store.disks, store.hot_spares) is None:
            least = f"{RAID_LEAST[store.raid]} or more"
            if store.raid in RAID_PAIRS:
                needs = f"an even number of disks, {least}"
            else:
                needs = f"{least} disks"
            working = store.disks - (store.hot_spares or 0)
            if working == 1:
                count = "1 disk"
            else:
                count = f"{working} disks"
            yield Hit(
                store.ref.at("raid"),
                also=(store.ref.at("disks"),),
                store=store.label,
                raid=store.raid,
                needs=needs,
                count=count,
            )


@rule("datastore-no-redundancy")
def no_redundancy(plan: Staged) -> Iterator[Hit]:
    for store in plan.facts.datastores:
        if store.raid == Raid.STRIPED:
            yield Hit(store.ref.at("raid"), store=store.label)


@rule("datastore-size-unknown")
def size_unknown(plan: Staged) -> Iterator[Hit]:
    for store in plan.facts.datastores:
        lacking = [
            (field, word)
            for field, word, value in (
                ("raid", "RAID level", store.raid),
                ("disks", "disks", positive(store.disks)),
                ("disk_gb", "disk size", positive(store.disk_gb)),
            )
            if not value
        ]
        if lacking:
            first, *others = lacking
            yield Hit(
                store.ref.at(first[0]),
                also=tuple(store.ref.at(field) for field, _ in others),
                store=store.label,
                missing=and_list([word for _, word in lacking]),
            )


@rule("datastore-others-unknown")
def others_unknown(plan: Staged) -> Iterator[Hit]:
    for store in plan.facts.datastores:
        if known(store.others_gib) is None:
            at = store.ref.at("others_gib")
            yield Hit(at, mend=Mend(store.ref, (("others_gib", "0"),)), store=store.label)


def _fullness(use: StoreUse) -> dict[str, Any]:
    parts = and_list(
        [f"{word} {units.show(gib)}" for word, gib in sorted(use.parts, key=lambda p: -p[1])],
        most=6,
    )
    return {
        "store": use.name,
        "planned": units.show(use.planned_gib),
        "usable": units.show(use.usable_gib),
        "parts": parts,
        "free": units.show(100 * (use.free_share or 0)),
    }


@rule("datastore-over-full")
def over_full(plan: Staged) -> Iterator[Hit]:
    for store, use in _used(plan):
        if use.free_share is not None and use.free_share < 0:
            over = units.show((use.planned_gib or 0) - (use.usable_gib or 0))
            yield Hit(
                store.ref.at("disks"), also=(store.ref.at("disk_gb"),), over=over, **_fullness(use)
            )


@rule("datastore-nearly-full")
def nearly_full(plan: Staged) -> Iterator[Hit]:
    kept = plan.numbers["storage.free-share"]
    for store, use in _used(plan):
        if use.free_share is not None and 0 <= use.free_share < kept:
            yield Hit(
                store.ref.at("disks"),
                also=(store.ref.at("disk_gb"),),
                kept=units.show(100 * kept),
                **_fullness(use),
            )


@rule("datastore-thin-unwatched")
def thin_unwatched(plan: Staged) -> Iterator[Hit]:
    for store, use in _used(plan):
        if not use.thin or plan.facts.service.space_watcher.strip():
            continue
        if use.promised_gib is None or use.usable_gib is None:
            promise = "How much is promised on it cannot be told yet."
        elif use.promised_gib > use.usable_gib:
            promise = f"It promises {units.show(use.promised_gib)} GiB and has {units.show(use.usable_gib)}."
            if use.days_until_full is not None:
                promise += f" As the kept desktops grow, it is full in about {units.show(use.days_until_full, 0)} days."
        else:
            continue
        yield Hit(
            store.ref.at("provisioning"),
            also=(plan.facts.service.ref.at("space_watcher"),),
            store=use.name,
            promise=promise,
        )


@rule("datastore-provisioning-unknown")
def provisioning_unknown(plan: Staged) -> Iterator[Hit]:
    for store in plan.facts.datastores:
        if not store.provisioning:
            yield Hit(store.ref.at("provisioning"), store=store.label)


@rule("datastore-too-slow")
def too_slow(plan: Staged) -> Iterator[Hit]:
    for store, use in _used(plan):
        if use.operations_front is None or use.operations_asked is None:
            continue
        if use.operations_asked > use.operations_front:
            count = sum(number for _, number in use.desktops)
            yield Hit(
                store.ref.at("disk_operations"),
                also=(store.ref.at("raid"),),
                store=use.name,
                count=units.show(count),
                asked=units.show(use.operations_asked, 0),
                front=units.show(use.operations_front, 0),
                raw=units.show(use.operations_raw, 0),
                writes=units.show(100 * plan.numbers["storage.write-share"]),
            )
