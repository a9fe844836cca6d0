"""Starting and building: a cold start of everything, and desktops built anew on every host.

See :mod:`planner.engine.recovery.outages` for what is decided where the facts leave room.
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.catalogue.assumptions import Numbers
from planner.engine.placement.capacity import known, positive
from planner.engine.placement.placing import Placement
from planner.engine.recovery import waves
from planner.engine.recovery.waves import TOO_LONG, Pace
from planner.engine.storage.datastores import Storage
from planner.engine.storage.disks import front_end
from planner.record.choices import ResetRule, Standing
from planner.record.facts import Id, SiteFacts, Template

FIRST_DESKTOPS = 3  # the run sheet starts so many, spread over the hosts, before any other


@dataclass(frozen=True, slots=True)
class ColdStart:
    """Everything starts after a power cut: hosts, guest servers, appliances, then ``desktops``; ``seconds`` in all.

    ``order`` says in words what must run before what. ``first_seconds`` is when the first desktops are ready;
    ``store_id`` the datastore whose disk operations make it longer than the number of starts at once does.
    """

    seconds: float | None = None
    first_seconds: float | None = None
    hosts_seconds: float | None = None
    servers_seconds: float = 0.0
    appliances_seconds: float | None = None
    desktops_seconds: float | None = None
    desktops: int = 0
    order: tuple[str, ...] = ()
    store_id: Id | None = None
    missing: tuple[str, ...] = ()
    unchecked: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Rebuild:
    """So many desktops are built anew, all hosts at work. ``kept`` of them hold what people put there."""

    name: str
    template_ids: tuple[Id, ...] = ()
    image_id: Id | None = None
    desktops: int = 0
    kept: int = 0
    seconds: float | None = None
    store_id: Id | None = None
    missing: tuple[str, ...] = ()


# -- paces -----------------------------------------------------------------------------------------


def build_pace(numbers: Numbers) -> Pace | None:
    """How a host builds desktops; ``None`` when a planning number cannot be one."""
    at_once, seconds = (
        positive(numbers["host.builds-at-once"]),
        positive(numbers["desktop.build-seconds"]),
    )
    slowdown, asked = (
        known(numbers["host.build-slowdown"]),
        known(numbers["desktop.start-operations"]),
    )
    if at_once is None or seconds is None or slowdown is None or asked is None:
        return None
    return Pace(max(1, int(at_once)), seconds, slowdown, asked)


def start_pace(numbers: Numbers, seconds_key: str = "desktop.start-seconds") -> Pace | None:
    """How a host starts machines that are there; ``None`` when a planning number cannot be one."""
    at_once, seconds = positive(numbers["host.starts-at-once"]), positive(numbers[seconds_key])
    asked = known(numbers["desktop.start-operations"])
    if at_once is None or seconds is None or asked is None:
        return None
    return Pace(max(1, int(at_once)), seconds, 0.0, asked)


def start_rates(facts: SiteFacts, numbers: Numbers, storage: Storage) -> dict[Id, float | None]:
    """Operations a second each datastore gives machines that start; ``None`` where nobody knows."""
    writes, raid = (
        known(numbers["desktop.start-write-share"]),
        {store.id: store.raid for store in facts.datastores},
    )
    found: dict[Id, float | None] = {}
    for store in storage.stores:
        raw, given = store.operations_raw, None
        if raw and writes is not None:
            given = front_end(raw, writes, raid[store.datastore_id])
        found[store.datastore_id] = given
    return found


# -- the two rooms ----------------------------------------------------------------------------------


def cold_start(
    facts: SiteFacts, numbers: Numbers, placement: Placement, rates: dict[Id, float | None]
) -> ColdStart:
    """Hosts, then appliances, then all placed desktops; ``rates`` from :func:`start_rates`."""
    host_starts, missing = known(numbers["host.start-seconds"]), list(placement.missing)
    desktops, appliances = start_pace(numbers), start_pace(numbers, "appliance.start-seconds")
    if not facts.appliances:
        missing.append("no appliance is named")
    if host_starts is None or desktops is None or appliances is None:
        missing.append("a planning number of starting is out of its range")
    if missing or host_starts is None or desktops is None or appliances is None:
        return ColdStart(missing=tuple(dict.fromkeys(missing)))
    on_host: dict[Id | None, int] = {}
    for appliance in facts.appliances:
        on_host[appliance.host_id] = on_host.get(appliance.host_id, 0) + 1
    alone = on_host.pop(None, 0) and 1  # where nobody said which host, each is on its own
    service = waves.on_store([*on_host.values(), alone], appliances)[0]
    counts: dict[Id | None, list[int]] = {}
    for load in placement.hosts:
        counts.setdefault(load.store_id, []).append(load.count)
    found = waves.work_out(counts, desktops, rates)
    guests = [one for one in facts.servers if one.stands == Standing.GUEST]
    if guests:
        servers = numbers["server.start-seconds"]
    else:
        servers = 0.0
    before = host_starts + servers + service
    seconds = known(before + found.seconds)
    return ColdStart(
        seconds=seconds,
        first_seconds=known(before + found.first),
        hosts_seconds=host_starts,
        servers_seconds=servers,
        order=start_order(facts),
        appliances_seconds=service,
        desktops_seconds=known(found.seconds),
        desktops=sum(load.count for load in placement.hosts),
        store_id=found.store_id,
        missing=() if seconds is not None else (TOO_LONG,),
        unchecked=_no_rates(facts, counts, rates),
    )


def start_order(facts: SiteFacts) -> tuple[str, ...]:
    """What starts after what when everything was off: switches first, guests of the hosts only after these."""
    own = [one.label for one in facts.servers if one.stands == Standing.OWN]
    guests = [one.label for one in facts.servers if one.stands == Standing.GUEST]
    unsaid = [one.label for one in facts.servers if not one.stands]
    steps = ["switches, firewall and shared storage"]
    steps += [", ".join(own)] if own else []
    steps.append("the hosts")
    steps += [f"{', '.join(guests)} on the hosts"] if guests else []
    steps.append("the appliances, then the desktops")
    if unsaid:
        steps.append(f"nobody says where these stand: {', '.join(unsaid)}")
    return tuple(steps)


def _no_rates(
    facts: SiteFacts, counts: dict[Id | None, list[int]], rates: dict[Id, float | None]
) -> tuple[str, ...]:
    """The datastores in use whose disk operations nobody knows."""
    return tuple(
        f"{store.label}: disk operations"
        for store in facts.datastores
        if store.id in counts and not rates[store.id]
    )


def rebuild(
    name: str,
    templates: list[Template],
    placement: Placement,
    pace: Pace | None,
    rates: dict[Id, float | None],
    image_id: Id | None = None,
) -> Rebuild:
    """Builds all placed desktops of some templates anew, all hosts at work; ``pace`` from :func:`build_pace`."""
    ids = tuple(template.id for template in templates)
    kept_ids = {template.id for template in templates if template.reset_rule == ResetRule.KEPT}
    missing = list(placement.missing)
    if pace is None:
        missing.append("a planning number of building is out of its range")
    if missing or pace is None:
        return Rebuild(name, ids, image_id, missing=tuple(missing))
    counts: dict[Id | None, list[int]] = {}
    kept = 0
    for load in placement.hosts:
        counts.setdefault(load.store_id, []).append(sum(load.desktops.get(id, 0) for id in ids))
        kept += sum(load.desktops.get(id, 0) for id in kept_ids)
    found = waves.work_out(counts, pace, rates)
    total = sum(map(sum, counts.values()))
    seconds = known(found.seconds)
    too_long = () if seconds is not None else (TOO_LONG,)
    return Rebuild(name, ids, image_id, total, kept, seconds, found.store_id, too_long)


def first_desktops(placement: Placement, pace: Pace | None) -> float | None:
    """Seconds until the first few desktops stand, spread over the hosts; ``None`` without a host."""
    if pace is None or not placement.hosts:
        return None
    return waves.on_store([-(-FIRST_DESKTOPS // len(placement.hosts))], pace)[0]
