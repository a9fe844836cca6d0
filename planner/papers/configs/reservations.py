"""Reservations: whose address a DHCP server keeps for them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from planner.engine.addresses import ipv4
from planner.engine.addresses.ipv4 import Block
from planner.papers.configs.checks import Checks, host_name, mac, name_fault
from planner.papers.configs.problems import Problem, problem
from planner.plan import Plan
from planner.record.choices import AddressOrigin, Holding
from planner.record.facts import Id, Ref


@dataclass(frozen=True, slots=True)
class Reservation:
    """One machine that always gets the same address. ``name`` is a host's name or ""."""

    mac: str
    address: int
    name: str
    label: str


@dataclass(frozen=True, slots=True)
class Wish:
    """Somebody whose address is to be reserved, as the record has it; ``mac_ref`` is whose MAC it is."""

    label: str
    ref: Ref
    mac_ref: Ref
    network_id: Id | None
    address: str
    mac: str
    name: str


def _wishes(plan: Plan, problems: list[Problem]) -> Iterator[Wish]:
    """Everybody whose address is to be reserved."""
    facts = plan.facts
    for device in facts.devices:
        if device.holding == Holding.RESERVED:
            yield Wish(
                device.label,
                device.ref,
                device.ref,
                device.network_id,
                device.address,
                device.mac,
                device.name,
            )
    service = facts.service
    if service.address_origin == AddressOrigin.RESERVED:
        holders = [
            one for one in facts.appliances if one.address and one.address == service.address
        ]
        if len(holders) == 1 or len(facts.appliances) == 1:
            holder = (holders or facts.appliances)[0]
            at = service.ref, holder.ref
            yield Wish(
                service.label, *at, service.network_id, service.address, holder.mac, holder.name
            )
        else:
            why = "no single appliance holds it, so there is no MAC"
            problems.append(
                problem(f"reservation for {service.label}", why, service.ref.at("address"))
            )


def reserved(
    plan: Plan, checks: Checks, blocks: dict[Id, Block], problems: list[Problem]
) -> dict[Id, list[Reservation]]:
    """The reservations of each network; every MAC, address and name once."""
    wishes = list(_wishes(plan, problems))
    names = Counter(_first_part(wish.name) for wish in wishes)
    found: dict[Id, list[Reservation]] = {}
    taken: set[object] = set()
    for wish in wishes:
        address, hardware = ipv4.parse(wish.address), mac(wish.mac)
        why, field = _refused(plan, checks, wish, blocks)
        if not why and {address, (wish.network_id, hardware)} & taken:
            why, field = "its address or its MAC is reserved already", "address"
        if why or address is None or hardware is None or wish.network_id is None:
            at = (wish.mac_ref if field == "mac" else wish.ref).at(field)
            problems.append(problem(f"reservation for {wish.label}", why, at))
            continue
        taken |= {address, (wish.network_id, hardware)}
        name = _reserved_name(wish, names, problems)
        found.setdefault(wish.network_id, []).append(
            Reservation(hardware, address, name, wish.label)
        )
    return found


def _refused(plan: Plan, checks: Checks, wish: Wish, blocks: dict[Id, Block]) -> tuple[str, str]:
    """Why an address is not reserved, and the field to mend."""
    address, hardware = ipv4.parse(wish.address), mac(wish.mac)
    if wish.network_id is not None:
        block = blocks.get(wish.network_id)
    else:
        block = None
    if address is None:
        return "it has no address", "address"
    if block is None:
        network = plan.facts.named("network", wish.network_id) or "not recorded"
        return f"its network, {network}, has no DHCP range here", "network_id"
    if not wish.mac:
        return "it has no MAC", "mac"
    if hardware is None:
        return f"{wish.mac} is not the MAC of one machine", "mac"
    if checks.twice(hardware):
        return f"its MAC {hardware} stands in another record too", "mac"
    if not block.first <= address <= block.last:
        return f"its address {wish.address} does not lie in {block}", "address"
    return checks.address(address, wish.ref.at("address")), "address"


def _reserved_name(wish: Wish, names: Counter[str], problems: list[Problem]) -> str:
    """The first part of a host's name, or "" with the reason told."""
    name = _first_part(wish.name)
    why = name_fault(name)
    if not why and names[name] > 1:
        why = "its name is reserved twice"
    if why:
        problems.append(problem(f"the name of the reservation for {wish.label}", why, wish.ref))
        return ""
    return name


def _first_part(name: str) -> str:
    return host_name(name).partition(".")[0]
