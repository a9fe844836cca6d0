"""Findings about how long things take: copying, starting anew, carrying on without a host."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from planner.engine.placement.capacity import counting_hosts, positive
from planner.engine.storage.copying import efficiency
from planner.engine.storage.datastores import is_local
from planner.record import units
from planner.record.choices import NetworkPurpose, ResetRule, Sharing
from planner.record.facts import Id, Network, Ref, Site
from planner.record.units import show_seconds
from planner.review.base import Hit, rule
from planner.review.networks import desktop_networks
from planner.review.words import and_list
from planner.stages.staged import Staged

DAY_MINUTES = 24 * 60


def working_day(site: Site) -> float | None:
    """Seconds from the start of work to its end, over midnight where it ends earlier than it starts."""
    if site.work_starts is None or site.work_ends is None or site.work_starts == site.work_ends:
        return None
    return _minutes_between(site.work_starts, site.work_ends) * 60


def night(site: Site) -> float | None:
    """Seconds from the end of work to its start on the next day."""
    day = working_day(site)
    if day is None:
        return None
    return DAY_MINUTES * 60 - day


def _minutes_between(first: dt.time, last: dt.time) -> float:
    def since_midnight(time: dt.time) -> float:
        return time.hour * 60 + time.minute + time.second / 60

    return (since_midnight(last) - since_midnight(first)) % DAY_MINUTES


def _host_networks(plan: Staged) -> dict[Id, list[str]]:
    """The networks that counting hosts stand on, with the hosts' names."""
    found: dict[Id, list[str]] = {}
    for host in counting_hosts(plan.facts):
        if host.network_id is not None:
            found.setdefault(host.network_id, []).append(host.label)
    return found


def _disks_at(plan: Staged, store_id: Id | None, otherwise: Ref) -> tuple[Ref, str]:
    """Where somebody would change what makes it slow, and what that is."""
    if store_id is None:
        return otherwise, "How many a host takes on at once sets the pace."
    store = Ref("datastore", store_id, "disk_operations")
    return store, f"The disk operations of {plan.facts.named('datastore', store_id)} set the pace."


# -- lines ---------------------------------------------------------------------------------------


@rule("hosts-line-unknown")
def line_unknown(plan: Staged) -> Iterator[Hit]:
    """The network of the hosts has no link rate. (A desktops' or storage network has a finding of its own.)"""
    if plan.recovery.lines.targets == 0:
        return
    told = {network.id for network in desktop_networks(plan)}
    carrying = _host_networks(plan)
    for network in plan.facts.networks:
        own = (
            network.id in carrying
            and network.id not in told
            and network.purpose != NetworkPurpose.STORAGE
        )
        if own and positive(network.link_mbit_s) is None:
            hosts = and_list(carrying[network.id])
            yield Hit(network.ref.at("link_mbit_s"), network=network.label, hosts=hosts)


@rule("hosts-mtu-differ")
def mtu_differ(plan: Staged) -> Iterator[Hit]:
    """Hosts on networks of different MTU, so that what one sends the other cannot take whole."""
    carrying = _host_networks(plan)
    bearing = [
        network
        for network in plan.facts.networks
        if network.id in carrying and network.mtu is not None
    ]
    if len({network.mtu for network in bearing}) < 2:
        return
    large, small = max(bearing, key=_mtu), min(bearing, key=_mtu)
    yield Hit(
        large.ref.at("mtu"),
        also=(small.ref.at("mtu"),),
        large=large.label,
        small=small.label,
        large_mtu=units.show(large.mtu),
        small_mtu=units.show(small.mtu),
        hosts=and_list(carrying[large.id]),
        others=and_list(carrying[small.id]),
    )


def _mtu(network: Network) -> int:
    return network.mtu or 0


@rule("storage-line-slow")
def storage_line_slow(plan: Staged) -> Iterator[Hit]:
    """A shared datastore behind a line that carries less than half of what its disks could."""
    networks = [
        one
        for one in plan.facts.networks
        if one.purpose == NetworkPurpose.STORAGE and positive(one.link_mbit_s)
    ]
    if len(networks) != 1:
        return
    network = networks[0]
    share = efficiency(plan.numbers["line.mtu"] if network.mtu is None else network.mtu)
    carried = (network.link_mbit_s or 0.0) / 8 * (share or 0.0)
    for store in plan.facts.datastores:
        rate = positive(store.throughput_mb_s)
        if store.sharing == Sharing.SHARED and rate is not None and share and 2 * carried < rate:
            yield Hit(
                network.ref.at("link_mbit_s"),
                also=(store.ref.at("throughput_mb_s"),),
                twin=str(store.id),
                store=store.label,
                rate=units.show(rate, 0),
                network=network.label,
                carried=units.show(carried, 0),
            )


@rule("images-copy-too-long")
def copy_too_long(plan: Staged) -> Iterator[Hit]:
    """Even all hosts at once, the copies do not end within the on-site working day."""
    found, day = plan.recovery, working_day(plan.facts.site)
    seconds = found.copying_seconds
    if day is None or seconds is None or seconds <= day or not found.lines.targets:
        return
    largest = max(found.copies, key=lambda copy: copy.gib or 0.0)
    gib = sum(copy.gib or 0.0 for copy in found.copies)
    yield Hit(
        Ref("image", largest.image_id, "used_gib"),
        also=(found.lines.at,) if found.lines.at else (),
        time=show_seconds(seconds),
        day=show_seconds(day),
        gib=units.show(gib),
        hosts="1 host" if found.lines.targets == 1 else f"{units.show(found.lines.targets)} hosts",
        binds=found.lines.binds,
        largest=largest.name,
    )


# -- starting and carrying on ----------------------------------------------------------------------


@rule("cold-start-too-long")
def cold_start_too_long(plan: Staged) -> Iterator[Hit]:
    found, most = plan.recovery.cold_start, plan.numbers["recovery.cold-start-minutes"]
    if found.seconds is None or found.seconds <= most * 60:
        return
    at, binds = _disks_at(plan, found.store_id, Ref("host", _fullest(plan)))
    yield Hit(
        at,
        time=show_seconds(found.seconds),
        most=show_seconds(most * 60),
        hosts=show_seconds(found.hosts_seconds),
        appliances=show_seconds(found.appliances_seconds),
        desktops=show_seconds(found.desktops_seconds),
        count=units.show(found.desktops),
        binds=binds,
    )


def _fullest(plan: Staged) -> Id:
    return max(plan.placement.hosts, key=lambda load: load.count).host_id


@rule("failover-too-long")
def failover_too_long(plan: Staged) -> Iterator[Hit]:
    found, most = plan.recovery.worst_failover, plan.numbers["recovery.failover-minutes"]
    if found is None or found.seconds is None or found.seconds <= most * 60:
        return
    at, binds = _disks_at(plan, found.store_id, Ref("host", found.host_id))
    yield Hit(
        at,
        host=found.name,
        time=show_seconds(found.seconds),
        most=show_seconds(most * 60),
        people=units.show(found.people),
        ready=units.show(found.ready),
        built=units.show(found.built),
        binds=binds,
    )


@rule("kept-desktops-on-one-host")
def kept_on_one_host(plan: Staged) -> Iterator[Hit]:
    """Desktops that people keep, on disks inside one host: nobody else can start them."""
    local = [
        store.label
        for store in plan.facts.datastores
        if is_local(store) and _at_home(plan, store.id)
    ]
    if not local or len(counting_hosts(plan.facts)) < 2:
        return
    for template in plan.facts.templates:
        if template.reset_rule == ResetRule.KEPT and template.most != 0:
            yield Hit(
                template.ref.at("reset_rule"), template=template.label, stores=and_list(local)
            )


def _at_home(plan: Staged, store_id: Id) -> bool:
    return any(home == store_id for _, home in plan.storage.homes)


# -- the night -------------------------------------------------------------------------------------


@rule("image-swap-too-long")
def swap_too_long(plan: Staged) -> Iterator[Hit]:
    found_night = night(plan.facts.site)
    for swap in plan.recovery.swaps:
        if (
            swap.image_id is None
            or swap.seconds is None
            or found_night is None
            or swap.seconds <= found_night
        ):
            continue
        at, also = (
            Ref("image", swap.image_id),
            tuple(Ref("template", id, "most") for id in swap.template_ids),
        )
        binds = _disks_at(plan, swap.store_id, at)[1]
        yield Hit(
            at,
            also=also,
            image=swap.name,
            count=units.show(swap.desktops),
            time=show_seconds(swap.seconds),
            night=show_seconds(found_night),
            binds=binds,
        )


@rule("nightly-reset-too-long")
def nightly_too_long(plan: Staged) -> Iterator[Hit]:
    found, found_night = plan.recovery.nightly, night(plan.facts.site)
    if (
        found is None
        or found.seconds is None
        or found_night is None
        or found.seconds <= found_night
    ):
        return
    first, *others = (Ref("template", id, "reset_rule") for id in found.template_ids)
    names = and_list([plan.facts.named("template", id) for id in found.template_ids])
    binds = _disks_at(plan, found.store_id, first)[1]
    yield Hit(
        first,
        also=tuple(others),
        templates=names,
        count=units.show(found.desktops),
        time=show_seconds(found.seconds),
        night=show_seconds(found_night),
        binds=binds,
    )
