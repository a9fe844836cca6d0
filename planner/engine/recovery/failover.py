"""Failover: one host goes down, and its people carry on at desktops on the others.

See :mod:`planner.engine.recovery.outages` for what is decided where the facts leave room.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from planner.catalogue.assumptions import Numbers
from planner.engine.people.concurrency import Concurrency
from planner.engine.placement.capacity import known
from planner.engine.placement.placing import HostDown, Placement
from planner.engine.recovery import waves
from planner.engine.recovery.waves import TOO_LONG, Pace
from planner.engine.storage.datastores import Storage, is_local
from planner.record.choices import ResetRule
from planner.record.facts import Id, SiteFacts

HOSTS = 400  # taken down in turn; a site with more hosts is not one site


@dataclass(frozen=True, slots=True)
class Failover:
    """One host is down: ``people`` lose their desktops. ``ready`` of them find a standby desktop at once,
    ``built`` wait for a new one, ``without`` get none until the host is back.

    ``seconds`` is until the last one who gets a desktop has it, from the moment the host stopped;
    ``None`` where ``missing`` says why, and where the service itself is gone (``service_gone``: every appliance was
    on that host). ``kept_away`` desktops that people keep lie on that host's own disks.
    """

    host_id: Id
    name: str
    people: int = 0
    ready: int = 0
    built: int = 0
    without: int = 0
    seconds: float | None = None
    store_id: Id | None = None
    service_gone: bool = False
    kept_away: int = 0
    missing: tuple[str, ...] = ()


def work_out(
    facts: SiteFacts,
    numbers: Numbers,
    storage: Storage,
    placement: Placement,
    concurrency: Concurrency,
    pace: Pace | None,
    rates: dict[Id, float | None],
) -> tuple[Failover, ...]:
    """Each host down in turn; () with one host, or none. ``pace`` is how a host builds desktops."""
    if len(placement.hosts) < 2:
        return ()
    noticed, missing = known(numbers["host.down-noticed-seconds"]), list(placement.missing)
    if len(placement.hosts) > HOSTS:
        missing.append(f"more than {HOSTS} hosts")
    if noticed is None or pace is None:
        missing.append("a planning number of building is out of its range")
    if missing or noticed is None or pace is None:
        return tuple(
            Failover(load.host_id, load.name, missing=tuple(missing))
            for load in placement.hosts[:HOSTS]
        )
    room = _Room(facts, storage, placement, concurrency)
    return tuple(_one(down, room, noticed, pace, rates) for down in placement.without)


class _Room:
    """What every host's loss is reckoned from, looked up once."""

    def __init__(
        self, facts: SiteFacts, storage: Storage, placement: Placement, concurrency: Concurrency
    ):
        self.loads = {load.host_id: load for load in placement.hosts}
        self.placed: Counter[Id] = Counter()
        for load in placement.hosts:
            self.placed.update(load.desktops)
        self.standby: dict[Id, int] = {}
        self.in_use: dict[Id, int] = {}
        for template in facts.templates:
            placed, standby = self.placed[template.id], int(known(template.standby) or 0)
            need = concurrency.of(template.id)
            if need is None:
                at_once = None
            else:
                at_once = need.needed
            if at_once is None:
                in_use = max(0, placed - standby)
            else:
                in_use = min(placed, at_once)
            self.in_use[template.id] = in_use
            self.standby[template.id] = min(standby, placed - in_use)
        self.most = {template.id: int(known(template.most) or 0) for template in facts.templates}
        self.kept = {
            template.id for template in facts.templates if template.reset_rule == ResetRule.KEPT
        }
        self.service_hosts = {appliance.host_id for appliance in facts.appliances}
        own = {store.id for store in facts.datastores if is_local(store)}
        self.on_own_disks = {host_id for host_id, store_id in storage.homes if store_id in own}


def _one(
    down: HostDown, room: _Room, noticed: float, pace: Pace, rates: dict[Id, float | None]
) -> Failover:
    people = ready = without = kept_away = 0
    for template_id, here in room.loads[down.host_id].desktops.items():
        placed, in_use = room.placed[template_id], room.in_use.get(template_id, 0)
        lost = _part(in_use, here, placed)
        spare = room.standby.get(template_id, 0)
        left = max(0, spare - _part(spare, here, placed))
        carried = max(
            0, room.most.get(template_id, 0) - down.left.get(template_id, 0)
        )  # by the other hosts
        none = min(lost, max(0, in_use - carried))
        people, without = people + lost, without + none
        ready += min(left, lost - none)
        kept_away += here if template_id in room.kept and down.host_id in room.on_own_disks else 0
    built = people - ready - without
    found = waves.work_out(_shared_out(built, down.host_id, room), pace, rates)
    gone, seconds = room.service_hosts == {down.host_id}, known(noticed + found.seconds)
    return Failover(
        host_id=down.host_id,
        name=down.name,
        people=people,
        ready=ready,
        built=built,
        without=without,
        seconds=None if gone else seconds,
        store_id=found.store_id,
        service_gone=gone,
        kept_away=kept_away,
        missing=() if seconds is not None else (TOO_LONG,),
    )


def _part(whole: int, here: int, placed: int) -> int:
    """A host's part of a number that goes with its desktops, rounded up."""
    if placed:
        return -(-whole * here // placed)
    return 0


def _shared_out(built: int, without: Id, room: _Room) -> dict[Id | None, list[int]]:
    """The desktops to build in even parts over the other hosts, by the datastore of each."""
    others = [load for load in room.loads.values() if load.host_id != without]
    if not built or not others:
        return {}
    each, rest = divmod(built, len(others))
    counts: dict[Id | None, list[int]] = {}
    for at, load in enumerate(others):
        counts.setdefault(load.store_id, []).append(each + (at < rest))
    return counts
