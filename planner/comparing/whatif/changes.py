"""Changes to a plan that are tried before anybody keeps them."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, TypeVar

from planner.record.choices import HostState, Sharing
from planner.record.facts import LISTS, Datastore, Host, Id, Record, Ref, SiteFacts

Row = TypeVar("Row", bound=Record)

# What may be tried, by kind of record; the same names as in the facts.
CHANGEABLE: dict[str, tuple[str, ...]] = {
    "template": ("most", "standby", "memory_gib", "vcpu"),
    "host": ("memory_gib", "cores_per_socket"),
    "seatgroup": ("people", "share_at_once"),
    "network": ("lease_minutes",),
}
MOST_COPIES = 64  # hosts like one that may be tried at once


@dataclass(frozen=True, slots=True)
class Change:
    """One field set to another value. ``at`` names record and field; ``value`` is in the field's unit."""

    at: Ref
    value: float | None


@dataclass(frozen=True, slots=True)
class Copies:
    """So many more hosts like this one, each with disks of its own like this one's."""

    host_id: Id
    count: int


def apply(
    facts: SiteFacts, changes: Iterable[Change] = (), copies: Iterable[Copies] = ()
) -> SiteFacts:
    """The facts with the changes made. A change of what is not there, or may not be tried, is passed over."""
    wanted: dict[tuple[str, Id], dict[str, float | None]] = {}
    for change in changes:
        if change.at.field in CHANGEABLE.get(change.at.kind, ()):
            wanted.setdefault((change.at.kind, change.at.id), {})[change.at.field] = change.value
    lists: dict[str, Any] = {}
    for kind in CHANGEABLE:
        name = LISTS[kind]
        rows = getattr(facts, name)
        changed = tuple(_changed(row, wanted.get((kind, row.id), {})) for row in rows)
        lists[name] = changed
    if wanted:
        made = dataclasses.replace(facts, **lists)
    else:
        made = facts
    for one in copies:
        made = _with_copies(made, one)
    return made


def _changed(row: Row, values: dict[str, float | None]) -> Row:
    if not values:
        return row
    whole = ("most", "standby", "vcpu", "cores_per_socket", "people", "lease_minutes")
    typed: dict[str, Any] = {
        name: int(value) if name in whole and value is not None else value
        for name, value in values.items()
    }
    return dataclasses.replace(row, **typed)


def copy_of(host: Host, id: Id, name: str) -> Host:
    """A further host like this one: to buy, and without what is this one's alone."""
    return dataclasses.replace(
        host,
        id=id,
        name=name,
        state=HostState.TO_BUY.value,
        address="",
        out_of_band_address="",
        ipv6_address="",
        mac="",
        management_name="",
    )


def disks_of(facts: SiteFacts, host_id: Id) -> list[Datastore]:
    """The disks that are a host's own."""
    return [
        store
        for store in facts.datastores
        if store.host_id == host_id and store.sharing != Sharing.SHARED
    ]


def names_for(facts: SiteFacts, host: Host, count: int) -> list[str]:
    """Names for further hosts: ``mill-h3`` after ``mill-h2``, else ``like mill-host 2``."""
    taken = {one.name.casefold() for one in facts.hosts}
    stem = host.name.rstrip("0123456789")
    digits = len(host.name) - len(stem)
    found: list[str] = []
    if digits:
        number = int(host.name[len(stem) :])
    else:
        number = 1
    while len(found) < count:
        number += 1
        if digits:
            name = f"{stem}{number:0{digits}}"
        else:
            name = f"like {host.label} {number}"
        if name.casefold() not in taken:
            found.append(name)
    return found


def _with_copies(facts: SiteFacts, copies: Copies) -> SiteFacts:
    host = facts.index.get(("host", copies.host_id))
    count = max(0, min(copies.count, MOST_COPIES))
    if not isinstance(host, Host) or not count:
        return facts
    next_host = min(0, *(one.id for one in facts.hosts)) - 1
    next_store = min(0, *(one.id for one in facts.datastores), 0) - 1
    hosts, stores, own = list(facts.hosts), list(facts.datastores), disks_of(facts, host.id)
    for name in names_for(facts, host, count):
        hosts.append(copy_of(host, next_host, name))
        for store in own:
            stores.append(
                dataclasses.replace(
                    store, id=next_store, host_id=next_host, name=f"{name} {store.name}"
                )
            )
            next_store -= 1
        next_host -= 1
    return dataclasses.replace(facts, hosts=tuple(hosts), datastores=tuple(stores))
