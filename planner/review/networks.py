"""Findings about networks: their subnets, gateways, VLANs and lines."""

from __future__ import annotations

from collections.abc import Iterator

from planner.engine.addresses import ipv4, special_ranges
from planner.engine.addresses.addressing import NetworkSpan, Overlap, next_free, wants_gateway
from planner.engine.addresses.ipv4 import Block
from planner.record import units
from planner.record.choices import NetworkPurpose
from planner.record.facts import Network
from planner.review.base import Hit, Mend, rule
from planner.review.words import and_list
from planner.stages.staged import Staged

OUTWARD = (NetworkPurpose.PERIMETER, NetworkPurpose.REMOTE)  # where public addresses belong
SMALLEST_WATCHED = 28  # a longer prefix is a link between routers and full by intent


def desktop_networks(plan: Staged) -> list[Network]:
    """Networks that desktops stand on: by their purpose, or because a template names them."""
    used = {template.network_id for template in plan.facts.templates}
    return [
        network
        for network in plan.facts.networks
        if network.purpose == NetworkPurpose.DESKTOPS or network.id in used
    ]


@rule("network-subnet-unknown")
def subnet_unknown(plan: Staged) -> Iterator[Hit]:
    for network in plan.facts.networks:
        if ipv4.parse_prefix(network.cidr) is None:
            yield Hit(network.ref.at("cidr"), network=network.label)


@rule("network-host-bits")
def host_bits(plan: Staged) -> Iterator[Hit]:
    for network in plan.facts.networks:
        read = ipv4.parse_prefix(network.cidr)
        if read and read[0] != read[1].network:
            mend = Mend(network.ref, (("cidr", str(read[1])),))
            yield Hit(
                network.ref.at("cidr"),
                mend=mend,
                network=network.label,
                typed=network.cidr,
                value=str(read[1]),
            )


@rule("network-gateway-missing")
def gateway_missing(plan: Staged) -> Iterator[Hit]:
    for network in plan.facts.networks:
        span = plan.addressing.span(network.id)
        if network.gateway or not span or not span.block:
            continue
        if not wants_gateway(network, span.block):
            continue
        value = next_free(plan.addressing, network.id, "gateway")
        if value:
            mend = Mend(network.ref, (("gateway", value),))
        else:
            mend = None
        yield Hit(
            network.ref.at("gateway"), mend=mend, network=network.label, cidr=span.cidr, value=value
        )


@rule("networks-same-subnet")
def same_subnet(plan: Staged) -> Iterator[Hit]:
    for overlap in plan.addressing.overlaps:
        if overlap.same:
            yield overlap_hit(plan, overlap)


@rule("networks-overlap")
def overlap(plan: Staged) -> Iterator[Hit]:
    for found in plan.addressing.overlaps:
        if not found.same:
            yield overlap_hit(plan, found)


def overlap_hit(plan: Staged, overlap: Overlap) -> Hit:
    inner, outer = overlap.inner, overlap.outer
    records = {network.id: network for network in plan.facts.networks}
    at, also = (records[span.network_id].ref.at("cidr") for span in (inner, outer))
    return Hit(
        at, also=(also,), inner=inner.name, outer=outer.name, cidr=inner.cidr, outer_cidr=outer.cidr
    )


@rule("network-special-range")
def special_range(plan: Staged) -> Iterator[Hit]:
    for network, span, block in spans(plan):
        found = special_ranges.of_block(block)
        if found and not found.private:
            yield Hit(
                network.ref.at("cidr"),
                network=network.label,
                cidr=span.cidr,
                range=str(found.block),
                words=found.words,
            )


@rule("network-public-range")
def public_range(plan: Staged) -> Iterator[Hit]:
    for network, span, block in spans(plan):
        if network.purpose not in OUTWARD and special_ranges.of_block(block) is None:
            yield Hit(network.ref.at("cidr"), network=network.label, cidr=span.cidr)


def spans(plan: Staged) -> Iterator[tuple[Network, NetworkSpan, Block]]:
    """Networks whose subnet is known, with their spans and the subnet."""
    for network in plan.facts.networks:
        span = plan.addressing.span(network.id)
        if span and span.block:
            yield network, span, span.block


@rule("addresses-few-left")
def few_left(plan: Staged) -> Iterator[Hit]:
    share = plan.numbers["addresses.few-left-share"]
    for network, span, block in spans(plan):
        free, usable = span.free or 0, span.usable or 0
        if block.prefix <= SMALLEST_WATCHED and free < share * usable:
            yield Hit(
                network.ref.at("cidr"),
                network=network.label,
                free=units.show(free),
                usable=units.show(usable),
                dhcp=units.show(span.dhcp_size),
            )


@rule("vlan-not-allowed")
def vlan_not_allowed(plan: Staged) -> Iterator[Hit]:
    for network in plan.facts.networks:
        if network.vlan is not None and not 1 <= network.vlan <= 4094:
            yield Hit(network.ref.at("vlan"), network=network.label, vlan=network.vlan)


@rule("vlan-twice")
def vlan_twice(plan: Staged) -> Iterator[Hit]:
    bearers: dict[int, list[Network]] = {}
    for network in plan.facts.networks:
        if network.vlan is not None:
            bearers.setdefault(network.vlan, []).append(network)
    for vlan, found in bearers.items():
        if len(found) > 1:
            *others, last = (network.ref.at("vlan") for network in found)
            yield Hit(
                last,
                also=tuple(others),
                vlan=vlan,
                networks=and_list([network.label for network in found]),
            )


@rule("mtu-odd")
def mtu_odd(plan: Staged) -> Iterator[Hit]:
    least, most = plan.numbers["network.mtu-least"], plan.numbers["network.mtu-most"]
    for network in plan.facts.networks:
        if network.mtu is not None and not least <= network.mtu <= most:
            yield Hit(
                network.ref.at("mtu"),
                network=network.label,
                mtu=units.show(network.mtu),
                least=units.show(least),
                most=units.show(most),
            )


@rule("storage-mtu-unknown")
def storage_mtu(plan: Staged) -> Iterator[Hit]:
    for network in plan.facts.networks:
        if network.purpose == NetworkPurpose.STORAGE and network.mtu is None:
            yield Hit(network.ref.at("mtu"), network=network.label)


@rule("link-rate-unknown")
def link_rate(plan: Staged) -> Iterator[Hit]:
    carrying = {network.id for network in desktop_networks(plan)}
    for network in plan.facts.networks:
        if not network.link_mbit_s and (
            network.id in carrying or network.purpose == NetworkPurpose.STORAGE
        ):
            yield Hit(network.ref.at("link_mbit_s"), network=network.label)


@rule("network-reaches-itself")
def reaches_itself(plan: Staged) -> Iterator[Hit]:
    for network in plan.facts.networks:
        if network.id in network.reaches:
            yield Hit(network.ref.at("reaches"), network=network.label)


@rule("network-reaches-one-way")
def reaches_one_way(plan: Staged) -> Iterator[Hit]:
    reached = {network.id: set(network.reaches) for network in plan.facts.networks}
    for network in plan.facts.networks:
        for other in dict.fromkeys(network.reaches):
            if other in reached and network.id not in reached[other]:
                name = plan.facts.named("network", other)
                yield Hit(
                    network.ref.at("reaches"), twin=str(other), network=network.label, other=name
                )
