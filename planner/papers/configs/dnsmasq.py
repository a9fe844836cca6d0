"""DHCP for IPv4 as a configuration file of dnsmasq.

Source: the program's manual, dnsmasq(8). Three of its habits are answered here: without these
options it tells clients that it is their router and their name server itself; it stops at 1,000
leases; and it reads a line in pieces of 1,025 bytes, so that lines must stay short.
"""

from __future__ import annotations

from collections.abc import Iterator

from planner.engine.addresses import ipv4
from planner.engine.addresses.ipv4 import Block
from planner.papers.configs import dhcp_words
from planner.papers.configs.ground import Ground
from planner.papers.configs.parts import Config, head
from planner.papers.configs.problems import Edition, Problem, problem
from planner.papers.configs.scopes import Scope
from planner.papers.configs.words import commented, one_line, wrapped
from planner.plan import Plan

TITLE = "DHCP configuration for dnsmasq"
SHORTEST = 120  # seconds: shorter leases it lengthens. Source: dnsmasq(8), --dhcp-range
LEASES = 1000  # it hands out at most, unless told otherwise. Source: dnsmasq(8), --dhcp-lease-max
CAUTIONS = (
    "It speaks of DHCP only. The program answers for names too unless it is told port=0: add that line where "
    "another program answers for names on the same machine, never where this one does.",
    "It answers on every interface whose network has a range here; name the interfaces where that is too much.",
)


def dnsmasq(plan: Plan, edition: Edition) -> Config:
    """A file for the program's configuration folder, with a range for every scope."""
    ground = Ground(plan)
    found, problems = ground.scopes[0], lacking(ground)
    lines = commented(
        head(
            plan,
            edition,
            title=TITLE,
            replaces=dhcp_words.REPLACES,
            cautions=[*CAUTIONS, *dhcp_words.cautions(found)],
            problems=problems,
        ),
        "#",
    )
    most = sum(scope.size + len(scope.reservations) for scope in found)
    if most > LEASES:
        lines += ["", f"dhcp-lease-max={most}"]
    for scope in found:
        lines += ["", *_scope(scope)]
    return Config("\n".join(lines) + "\n", tuple(problems))


def lacking(ground: Ground) -> list[Problem]:
    """What the configuration of a plan lacks."""
    found, problems = ground.scopes
    return [*problems, *_short(found)]


def _short(found: list[Scope]) -> Iterator[Problem]:
    for scope in found:
        if scope.lease is not None and scope.lease < SHORTEST:
            what, why = (
                f"the lease time of {scope.network.label}",
                "the program grants none under two minutes",
            )
            yield problem(what, why, scope.network.ref.at("lease_minutes"))


def _scope(scope: Scope) -> Iterator[str]:
    network, tag = scope.network, f"net{scope.number}"
    words = [f"network {one_line(network.label, 60)}", str(scope.block)]
    words += [f"VLAN {network.vlan}"] if network.vlan is not None else []
    words += [f"handed out by {one_line(network.dhcp_server, 60)}"] if network.dhcp_server else []
    yield from commented(wrapped(one_line(", ".join(words), 300)), "#")
    long_enough = scope.lease is not None and scope.lease >= SHORTEST
    if long_enough:
        lease = f",{scope.lease}"
    else:
        lease = ""
    for first, last in scope.pools:
        yield f"dhcp-range=set:{tag},{ipv4.to_text(first)},{ipv4.to_text(last)},{_mask(scope.block)}{lease}"
    yield _option(tag, "router", "" if scope.router is None else ipv4.to_text(scope.router))
    yield _option(tag, "dns-server", ",".join(scope.dns))
    if scope.domain:
        yield _option(tag, "domain-name", scope.domain)
    if long_enough:
        yield _option(tag, "T1", str(scope.renew))
        yield _option(tag, "T2", str(scope.rebind))
    for one in scope.reservations:
        yield ",".join(filter(None, (f"dhcp-host={one.mac}", ipv4.to_text(one.address), one.name)))


def _option(tag: str, name: str, value: str) -> str:
    """An option; an empty one keeps the program from sending its own address."""
    return f"dhcp-option=tag:{tag},option:{name}" + (f",{value}" if value else "")


def _mask(block: Block) -> str:
    return ipv4.to_text((1 << 32) - block.size)
