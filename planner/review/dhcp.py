"""Findings about what a network tells its machines: their addresses (DHCP), their name servers, their domain."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypedDict

from planner.engine.addresses import ipv4
from planner.engine.addresses.addressing import NetworkSpan
from planner.record.choices import Dhcp, DirectoryKind, ServerRole
from planner.record.facts import Network, Template
from planner.review.base import Hit, Mend, rule
from planner.review.networks import desktop_networks
from planner.review.words import and_list
from planner.stages.staged import Staged


def ranges(plan: Staged) -> Iterator[tuple[Network, NetworkSpan | None, int, int]]:
    """Networks with a DHCP range whose both ends are written: network, span, first, last."""
    for network in plan.facts.networks:
        first, last = ipv4.parse(network.dhcp_first), ipv4.parse(network.dhcp_last)
        if network.dhcp == Dhcp.RANGE and first is not None and last is not None:
            yield network, plan.addressing.span(network.id), first, last


class Typed(TypedDict):
    """What findings about a DHCP range say of it, as it was typed."""

    network: str
    first: str
    last: str


def typed(network: Network) -> Typed:
    return {"network": network.label, "first": network.dhcp_first, "last": network.dhcp_last}


def proposal(network: Network, span: NetworkSpan | None) -> tuple[Mend | None, str]:
    """A mend that sets the DHCP range to the longest free run of the band plan's part for it."""
    if span:
        run = span.dhcp_proposal()
    else:
        run = None
    if run is None:
        return None, ""
    first, last = (ipv4.to_text(address) for address in run)
    return Mend(network.ref, (("dhcp_first", first), ("dhcp_last", last))), f"{first} to {last}"


@rule("dhcp-range-half")
def range_half(plan: Staged) -> Iterator[Hit]:
    for network in plan.facts.networks:
        if network.dhcp != Dhcp.RANGE:
            continue
        missing = [
            f for f in ("dhcp_first", "dhcp_last") if ipv4.parse(getattr(network, f)) is None
        ]
        if missing:
            mend, value = (None, "")
            if len(missing) == 2:
                mend, value = proposal(network, plan.addressing.span(network.id))
            words = {"dhcp_first": "first", "dhcp_last": "last"}
            which = and_list([words[field] for field in missing])
            yield Hit(
                network.ref.at(missing[0]),
                mend=mend,
                network=network.label,
                which=which,
                value=value,
            )


@rule("dhcp-range-reversed")
def range_reversed(plan: Staged) -> Iterator[Hit]:
    for network, _, first, last in ranges(plan):
        if first > last:
            mend = Mend(
                network.ref, (("dhcp_first", network.dhcp_last), ("dhcp_last", network.dhcp_first))
            )
            yield Hit(network.ref.at("dhcp_first"), mend=mend, **typed(network))


@rule("dhcp-range-outside")
def range_outside(plan: Staged) -> Iterator[Hit]:
    for network, span, first, last in ranges(plan):
        if (
            span
            and span.block
            and first <= last
            and not (span.block.first <= first and last <= span.block.last)
        ):
            if not span.block.first <= first <= span.block.last:
                end = "dhcp_first"
            else:
                end = "dhcp_last"
            low, high = max(first, span.block.first), min(last, span.block.last)
            mend, value = None, ""
            if low <= high:
                texts = ipv4.to_text(low), ipv4.to_text(high)
                mend = Mend(
                    network.ref, tuple(zip(("dhcp_first", "dhcp_last"), texts, strict=True))
                )
                value = " to ".join(texts)
            yield Hit(
                network.ref.at(end),
                mend=mend,
                cidr=span.cidr,
                usable_first=span.first,
                usable_last=span.last,
                value=value,
                **typed(network),
            )


@rule("dhcp-range-over-gateway")
def range_over_gateway(plan: Staged) -> Iterator[Hit]:
    for network, _, first, last in ranges(plan):
        gateway = ipv4.parse(network.gateway)
        if gateway is not None and first <= gateway <= last:
            mend, value = None, ""
            below, above = (first, gateway - 1), (gateway + 1, last)
            low, high = max(below, above, key=lambda run: run[1] - run[0])
            if low <= high:
                texts = ipv4.to_text(low), ipv4.to_text(high)
                mend = Mend(
                    network.ref, tuple(zip(("dhcp_first", "dhcp_last"), texts, strict=True))
                )
                value = " to ".join(texts)
            yield Hit(
                network.ref.at("dhcp_first"),
                mend=mend,
                gateway=network.gateway,
                value=value,
                **typed(network),
            )


@rule("dhcp-server-unknown")
def server_unknown(plan: Staged) -> Iterator[Hit]:
    for network in plan.facts.networks:
        if network.dhcp == Dhcp.RANGE and not network.dhcp_server:
            yield Hit(network.ref.at("dhcp_server"), network=network.label)


def template_networks(plan: Staged, dhcp: str) -> Iterator[tuple[Network, list[Template]]]:
    """Networks with this setting of DHCP that templates put desktops on: network, the templates."""
    for network in plan.facts.networks:
        users = [template for template in plan.facts.templates if template.network_id == network.id]
        if users and network.dhcp == dhcp:
            yield network, users


@rule("template-network-no-dhcp")
def template_no_dhcp(plan: Staged) -> Iterator[Hit]:
    for network, users in template_networks(plan, "none"):
        also = tuple(template.ref.at("network_id") for template in users)
        yield Hit(
            network.ref.at("dhcp"),
            also=also,
            network=network.label,
            templates=and_list([template.label for template in users]),
        )


@rule("template-network-dhcp-unknown")
def template_dhcp_unknown(plan: Staged) -> Iterator[Hit]:
    for network, users in template_networks(plan, ""):
        yield Hit(
            network.ref.at("dhcp"),
            network=network.label,
            templates=and_list([template.label for template in users]),
        )


@rule("desktop-dns-missing")
def dns_missing(plan: Staged) -> Iterator[Hit]:
    for network in desktop_networks(plan):
        if not network.dns_servers:
            good = directory_name_servers(plan)
            if good:
                mend = Mend(network.ref, (("dns_servers", ", ".join(good)),))
            else:
                mend = None
            yield Hit(
                network.ref.at("dns_servers"),
                mend=mend,
                network=network.label,
                value=", ".join(good),
            )


def directory_name_servers(plan: Staged) -> list[str]:
    """Addresses of the servers that answer for the directory's names; [] without a domain."""
    if plan.facts.directory.directory_kind != DirectoryKind.DOMAIN:
        return []
    servers = plan.facts.servers
    chosen = [s for s in servers if ServerRole.DNS in s.roles] or [
        s for s in servers if ServerRole.DIRECTORY in s.roles
    ]
    return list(dict.fromkeys(server.address for server in chosen if server.address))


def other_name_servers(plan: Staged) -> Iterator[tuple[Network, list[str], list[str]]]:
    """Desktop networks with name servers that are not the directory's: network, the others, the directory's."""
    good = directory_name_servers(plan)
    known = {
        server.address
        for server in plan.facts.servers
        if {ServerRole.DNS, ServerRole.DIRECTORY} & set(server.roles)
    }
    known |= {server.ipv6_address for server in plan.facts.servers}
    for network in desktop_networks(plan):
        others = [address for address in network.dns_servers if address not in known]
        if good and others:
            yield network, others, good


def dns_hit(network: Network, others: list[str], good: list[str]) -> Hit:
    value = ", ".join(good)
    mend = Mend(network.ref, (("dns_servers", value),))
    return Hit(
        network.ref.at("dns_servers"),
        mend=mend,
        network=network.label,
        others=and_list(others),
        value=value,
    )


@rule("desktop-dns-not-directory")
def dns_not_directory(plan: Staged) -> Iterator[Hit]:
    for network, others, good in other_name_servers(plan):
        if len(others) == len(network.dns_servers):
            yield dns_hit(network, others, good)


@rule("desktop-dns-mixed")
def dns_mixed(plan: Staged) -> Iterator[Hit]:
    for network, others, good in other_name_servers(plan):
        if len(others) < len(network.dns_servers):
            yield dns_hit(network, others, good)


@rule("domain-suffix-differs")
def domain_suffix(plan: Staged) -> Iterator[Hit]:
    directory = plan.facts.directory
    wanted = directory.domain.removesuffix(".")
    if directory.directory_kind != DirectoryKind.DOMAIN or not wanted:
        return
    for network in desktop_networks(plan):
        suffix = network.domain_suffix.removesuffix(".")
        if suffix and suffix.lower() != wanted.lower():
            mend = Mend(network.ref, (("domain_suffix", wanted),))
            yield Hit(
                network.ref.at("domain_suffix"),
                mend=mend,
                network=network.label,
                suffix=suffix,
                value=wanted,
            )
