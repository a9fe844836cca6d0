"""Firewall rules from the plan's flows: who may open what to whom, with everything unsafe left out."""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from planner.engine.addresses import ipv4
from planner.engine.addresses.ipv4 import Block
from planner.engine.flows.port_sheet import FIREWALL, NOT_KNOWN, Direction, End, Flow
from planner.papers.configs.checks import Checks, ordinary_block
from planner.papers.configs.problems import Problem, problem
from planner.plan import Plan
from planner.record.choices import AddressOrigin, Transport
from planner.record.facts import Id, OwnFlow

Prefix = ipaddress.IPv4Network | ipaddress.IPv6Network
SHORTEST_6 = 16  # bits; no site has a wider IPv6 prefix
WHOLE = (
    "all",
    "any",
    "everything",
    "everybody",
    "people",
    "desktops",
    "clients",
    "network",
    "the network",
)
_PORTS = re.compile(r"([0-9]{1,5})(?:\s*[-–]\s*([0-9]{1,5}))?\Z")


@dataclass(frozen=True, slots=True)
class Group:
    """Addresses of one IP version at one end of rules, each prefix once; ``label`` is what they are.

    Groups of one plan with the same prefixes have the same ``number``.
    """

    version: int
    prefixes: tuple[Prefix, ...]
    label: str
    number: int


@dataclass(frozen=True, slots=True)
class Rule:
    """One thing that may pass: ``ports`` are (first, last) pairs, empty for icmp."""

    source: Group
    target: Group
    transport: str
    ports: tuple[tuple[int, int], ...]
    name: str
    why: str

    @property
    def key(self) -> tuple[int, int, str]:
        """Rules with the same key say the same but for their ports and words."""
        return self.source.number, self.target.number, self.transport


def rules(plan: Plan) -> tuple[list[Rule], list[Problem]]:
    """A rule for every flow that crosses a firewall and can be said, nothing twice, and what was left out."""
    problems: dict[str, Problem] = {}
    reading = _Reading(plan)
    found: dict[tuple[int, int, str, str, str], Rule] = {}
    for flow in plan.flows.flows:
        if flow.crosses not in (FIREWALL, NOT_KNOWN):
            continue
        why = _unsayable(flow) or _meant(plan, flow)
        at = flow.record or flow.source.ref or flow.target.ref
        if why:
            _note(problems, problem(_called(flow), why, at))
            continue
        for rule in _of_flow(flow, reading, problems):
            kept = found.setdefault((*rule.key, flow.rule, rule.why), rule)
            if kept is not rule:
                found[(*rule.key, flow.rule, rule.why)] = _wider(kept, rule)
    return list(_once(found.values())), list(problems.values())


def _note(problems: dict[str, Problem], one: Problem) -> None:
    problems.setdefault(one.text, one)


def _called(flow: Flow) -> str:
    opening = " ".join(filter(None, (flow.transport or "transport not known", flow.ports)))
    return f"{flow.name}, {opening}, from {flow.source.label} to {flow.target.label}"


def _unsafe(plan: Plan) -> Mapping[str, str]:
    """Addresses that cannot be relied on, with the reason."""
    found = dict(Checks(plan).unsafe)
    service = plan.facts.service
    if service.address and service.address_origin == AddressOrigin.DYNAMIC:
        found.setdefault(
            service.address, "it is dynamic, and a rule for it would open another machine one day"
        )
    return found


def _unsayable(flow: Flow) -> str:
    """Why no rule can be written for a flow, "" when one can."""
    if flow.crosses == NOT_KNOWN:
        return "nobody knows whether it crosses a firewall"
    if not Transport.holds(flow.transport):
        return "its transport is not known"
    if flow.transport != Transport.ICMP and not _ports(flow.ports):
        return f"“{flow.ports}” are no ports"
    if flow.source.outside:
        return "it comes from anywhere: whoever keeps the outer firewall says from where, and to which public address"
    for end, word in ((flow.source, "from"), (flow.target, "to")):
        if not end.addresses:
            return f"the addresses it goes {word} are not known"
    return ""


def _meant(plan: Plan, flow: Flow) -> str:
    """Why a typed end of an own flow is not what the flow's addresses say, "" when it is.

    Where nobody knows the machine that was typed, the flow has its network's whole subnet: good for a
    sheet that people read, more than was asked for in a rule.
    """
    if flow.record:
        record = plan.facts.find(flow.record)
    else:
        record = None
    if not isinstance(record, OwnFlow):
        return ""
    return _misses(plan, flow.source, record.from_what, record.from_network_id) or _misses(
        plan, flow.target, record.to_what, record.to_network_id
    )


def _misses(plan: Plan, end: End, typed: str, network_id: Id | None) -> str:
    """Why one typed end is not what its addresses say."""
    what = typed.strip()
    network = plan.facts.named("network", network_id)
    if not what or end.ref is not None or what.casefold() in (*WHOLE, network.casefold()):
        return ""
    if what not in end.addresses:
        return (
            f"“{what}” is unknown to the plan, and its whole network would be more than was asked"
        )
    span, address = plan.addressing.span(network_id), ipv4.parse(what)
    if span and span.block and address is not None and address not in span.block:
        return f"{what} does not lie in {network}"
    return ""


def _ports(text: str) -> tuple[tuple[int, int], ...]:
    """Ports as typed, "443", "5000-5010" or "80, 443", as pairs; empty when one is none or reversed."""
    found = []
    for part in text.split(","):
        match = _PORTS.match(part.strip())
        first, last = (int(match[1]), int(match[2] or match[1])) if match else (0, 0)
        if not 1 <= first <= last <= 65_535:
            return ()
        found.append((first, last))
    return tuple(found)


def _of_flow(flow: Flow, reading: _Reading, problems: dict[str, Problem]) -> Iterator[Rule]:
    """The rules of one flow: one an IP version, and one back where both sides may begin."""
    sources, targets = (reading.of(flow, end, problems) for end in (flow.source, flow.target))
    if sources and targets and not set(sources) & set(targets):
        why = "one end has IPv4 addresses only, the other IPv6"
        _note(problems, problem(_called(flow), why, flow.record or flow.target.ref))
    ports = () if flow.transport == Transport.ICMP else _ports(flow.ports)
    for version in sorted(set(sources) & set(targets)):
        source, target = sources[version], targets[version]
        yield Rule(source, target, flow.transport, ports, flow.name, flow.why)
        if flow.direction == Direction.BOTH_WAYS:
            yield Rule(target, source, flow.transport, ports, flow.name, flow.why)


class _Reading:
    """Reads the ends of flows, each once: the lines of one rule share theirs, and many ends share addresses."""

    def __init__(self, plan: Plan):
        self.unsafe = _unsafe(plan)
        self._faults: dict[str, tuple[Prefix | None, str]] = {}
        self._prefixes: dict[tuple[str, ...], dict[int, tuple[Prefix, ...]]] = {}
        self._numbers: dict[tuple[Prefix, ...], int] = {}
        self._ends: dict[int, dict[int, Group]] = {}
        self._told: set[tuple[str, int]] = set()

    def of(self, flow: Flow, end: End, problems: dict[str, Problem]) -> dict[int, Group]:
        """An end's addresses by IP version; those that are missing or cannot be relied on are left out and told."""
        if (
            flow.name,
            id(end),
        ) not in self._told:  # an end of the plan's flows lives as long as the plan
            self._told.add((flow.name, id(end)))
            self._tell(flow, end, problems)
        if id(end) not in self._ends:
            if end.addresses not in self._prefixes:
                self._prefixes[end.addresses] = self._by_version(end.addresses)
            self._ends[id(end)] = {
                version: Group(
                    version,
                    prefixes,
                    end.label,
                    self._numbers.setdefault(prefixes, len(self._numbers)),
                )
                for version, prefixes in self._prefixes[end.addresses].items()
            }
        return self._ends[id(end)]

    def _tell(self, flow: Flow, end: End, problems: dict[str, Problem]) -> None:
        for holder in end.holders:
            if not holder.address:
                what = f"{holder.name} in {flow.name}"
                _note(problems, problem(what, "its address is not known", holder.ref or end.ref))
        for text in end.addresses:
            if why := self._fault(text)[1]:
                _note(problems, problem(f"{text} in {flow.name}, {end.label}", why, end.ref))

    def _by_version(self, addresses: tuple[str, ...]) -> dict[int, tuple[Prefix, ...]]:
        found: dict[int, list[Prefix]] = {}
        for text in addresses:
            prefix, why = self._fault(text)
            if prefix is not None and not why:
                found.setdefault(prefix.version, []).append(prefix)
        return {version: _collapsed(prefixes) for version, prefixes in found.items()}

    def _fault(self, text: str) -> tuple[Prefix | None, str]:
        """An address or a subnet as a prefix, and why no rule should hold it, "" when one may."""
        if text not in self._faults:
            prefix = _prefix(text)
            if prefix is None:
                why = "it is no address"
            else:
                why = self.unsafe.get(text, "") or _odd(prefix)
            self._faults[text] = prefix, why
        return self._faults[text]


def _prefix(text: str) -> Prefix | None:
    """An address or a subnet as a prefix, its host bits cleared."""
    try:
        if "%" in text:
            return None
        return ipaddress.ip_network(text, strict=False)
    except ValueError:
        return None


def _odd(prefix: Prefix) -> str:
    """Why no rule should be written for a prefix, "" when one may."""
    if isinstance(prefix, ipaddress.IPv4Network):
        return ordinary_block(Block(int(prefix.network_address), prefix.prefixlen))
    if prefix.prefixlen < SHORTEST_6:
        return "so wide a prefix would open everything"
    odd = prefix.is_multicast or prefix.is_loopback or prefix.is_link_local or prefix.is_unspecified
    if odd:
        return "no firewall forwards it"
    return ""


def _collapsed(prefixes: Iterable[Prefix]) -> tuple[Prefix, ...]:
    """Prefixes of one version without those that others hold: a set refuses intervals that overlap."""
    found = list(prefixes)
    of_4 = [one for one in found if isinstance(one, ipaddress.IPv4Network)]
    of_6 = [one for one in found if isinstance(one, ipaddress.IPv6Network)]
    return (*ipaddress.collapse_addresses(of_4), *ipaddress.collapse_addresses(of_6))


def _wider(one: Rule, other: Rule) -> Rule:
    ports = _merged((*one.ports, *other.ports))
    return Rule(one.source, one.target, one.transport, ports, one.name, one.why)


def _merged(ports: Iterable[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """Ports ascending, each once; ranges that overlap become one."""
    found: list[tuple[int, int]] = []
    for first, last in sorted(ports):
        if found and first <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], last))
        else:
            found.append((first, last))
    return tuple(found)


def _once(found: Iterable[Rule]) -> Iterator[Rule]:
    """Rules without the ports that an earlier one with the same ends opens already."""
    open_already: dict[tuple[int, int, str], list[tuple[int, int]]] = {}
    for rule in found:
        before = open_already.setdefault(rule.key, [])
        ports = tuple(
            pair
            for pair in _merged(rule.ports)
            if not any(a <= pair[0] and pair[1] <= b for a, b in before)
        )
        if rule.transport == Transport.ICMP:
            if before:
                continue
            before.append((0, 0))
        elif not ports:
            continue
        before += ports
        yield Rule(rule.source, rule.target, rule.transport, ports, rule.name, rule.why)
