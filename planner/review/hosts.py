"""Findings about the hosts themselves: what is not known of them, how they differ, how they are reached."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from planner.engine.placement.capacity import counting_hosts, known, positive
from planner.record import units
from planner.record.choices import HostState
from planner.record.facts import Host
from planner.review import capacity, datastores  # noqa: F401  (their rules are of this chapter too)
from planner.review.base import Hit, rule
from planner.review.words import and_list
from planner.stages.staged import Staged


@rule("hosts-none")
def none(plan: Staged) -> Iterator[Hit]:
    if not counting_hosts(plan.facts):
        if plan.facts.hosts:
            at = plan.facts.hosts[0].ref.at("state")
        else:
            at = plan.facts.site.ref
        yield Hit(at, also=tuple(host.ref.at("state") for host in plan.facts.hosts[1:]))


def _lacking(plan: Staged, field: str, lacks: Callable[[Host], bool]) -> Iterator[Hit]:
    """A hit for every counting host that lacks something, at the field to fill."""
    return (
        Hit(host.ref.at(field), host=host.label)
        for host in counting_hosts(plan.facts)
        if lacks(host)
    )


@rule("host-memory-unknown")
def memory_unknown(plan: Staged) -> Iterator[Hit]:
    yield from _lacking(plan, "memory_gib", lambda host: positive(host.memory_gib) is None)


@rule("host-cores-unknown")
def cores_unknown(plan: Staged) -> Iterator[Hit]:
    for host in counting_hosts(plan.facts):
        if positive(host.cores) is None:
            if positive(host.sockets):
                field = "cores_per_socket"
            else:
                field = "sockets"
            yield Hit(host.ref.at(field), host=host.label)


@rule("host-too-small")
def too_small(plan: Staged) -> Iterator[Hit]:
    for load in plan.placement.hosts:
        if load.own_gib is None or load.appliance_gib is None:
            taken = None
        else:
            taken = load.own_gib + load.appliance_gib
        if load.memory_gib is not None and taken is not None and taken >= load.memory_gib:
            host = next(host for host in plan.facts.hosts if host.id == load.host_id)
            yield Hit(
                host.ref.at("memory_gib"),
                host=load.name,
                memory=units.show(load.memory_gib),
                own=units.show(load.own_gib),
                appliance=units.show(load.appliance_gib),
            )


@rule("host-alone")
def alone(plan: Staged) -> Iterator[Hit]:
    hosts = counting_hosts(plan.facts)
    if len(hosts) == 1:
        yield Hit(hosts[0].ref, host=hosts[0].label)


@rule("hosts-differ")
def differ(plan: Staged) -> Iterator[Hit]:
    sized = [
        (host, memory)
        for host in counting_hosts(plan.facts)
        if (memory := positive(host.memory_gib))
    ]
    if len(sized) < 2:
        return
    (small, least), (large, most) = (pick(sized, key=lambda pair: pair[1]) for pick in (min, max))
    if most > least * plan.numbers["host.memory-spread"]:
        yield Hit(
            large.ref.at("memory_gib"),
            also=(small.ref.at("memory_gib"),),
            large=large.label,
            small=small.label,
            most=units.show(most),
            least=units.show(least),
        )


def _unlike(plan: Staged, field: str) -> Iterator[tuple[Host, Host]]:
    """Every host whose text in a field is not that of most hosts, with one that has that; blanks are passed over."""
    by_text: dict[str, list[Host]] = {}
    for host in plan.facts.hosts:
        if getattr(host, field).strip():
            by_text.setdefault(getattr(host, field).strip(), []).append(host)
    usual = max(by_text.values(), key=len, default=[])
    for hosts in by_text.values():
        if hosts is not usual:
            yield from ((host, usual[0]) for host in hosts)


@rule("hosts-hypervisors-differ")
def hypervisors_differ(plan: Staged) -> Iterator[Hit]:
    for host, other in _unlike(plan, "hypervisor"):
        yield Hit(
            host.ref.at("hypervisor"),
            also=(other.ref.at("hypervisor"),),
            host=host.label,
            other=other.label,
            release=host.hypervisor,
            usual=other.hypervisor,
        )


@rule("hosts-labels-differ")
def labels_differ(plan: Staged) -> Iterator[Hit]:
    for host, other in _unlike(plan, "network_label"):
        yield Hit(
            host.ref.at("network_label"),
            also=(other.ref.at("network_label"),),
            host=host.label,
            other=other.label,
            label=host.network_label,
            usual=other.network_label,
        )


@rule("host-label-unknown")
def label_unknown(plan: Staged) -> Iterator[Hit]:
    yield from _lacking(plan, "network_label", lambda host: not host.network_label.strip())


@rule("host-hypervisor-unknown")
def hypervisor_unknown(plan: Staged) -> Iterator[Hit]:
    yield from _lacking(plan, "hypervisor", lambda host: not host.hypervisor.strip())


@rule("host-address-missing")
def address_missing(plan: Staged) -> Iterator[Hit]:
    yield from _lacking(plan, "address", lambda host: not host.address)


@rule("host-out-of-band-missing")
def out_of_band_missing(plan: Staged) -> Iterator[Hit]:
    yield from _lacking(plan, "out_of_band_address", lambda host: not host.out_of_band_address)


@rule("host-time-source-missing")
def time_source_missing(plan: Staged) -> Iterator[Hit]:
    yield from _lacking(plan, "time_source", lambda host: not host.time_source.strip())


@rule("host-heavy")
def heavy(plan: Staged) -> Iterator[Hit]:
    """Hosts that stand there already are not carried; the others are."""
    alone_kg = plan.facility.lift_limits.alone_kg
    carried = [host for host in plan.facts.hosts if host.state != HostState.EXISTING]
    heavy_hosts = [host for host in carried if (known(host.weight_kg) or 0) > alone_kg]
    if heavy_hosts:
        first, *others = heavy_hosts
        names = and_list(
            [f"{host.label} ({units.show(host.weight_kg)} kg)" for host in heavy_hosts]
        )
        yield Hit(
            first.ref.at("weight_kg"),
            also=tuple(host.ref.at("weight_kg") for host in others),
            hosts=names,
            alone=units.show(alone_kg),
        )


@rule("host-watts-unknown")
def watts_unknown(plan: Staged) -> Iterator[Hit]:
    yield from _lacking(plan, "rated_watts", lambda host: positive(host.rated_watts) is None)
