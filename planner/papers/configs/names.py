"""Which names stand for which addresses: the ground of the zone files and of the hosts file."""

from __future__ import annotations

import functools
import ipaddress
from collections.abc import Iterator
from dataclasses import dataclass, replace

from planner.engine.addresses import ipv4
from planner.papers.configs.checks import Checks, host_name, ipv6_address, name_fault
from planner.papers.configs.problems import Problem, problem
from planner.plan import Plan
from planner.record.choices import AddressOrigin, ServerRole
from planner.record.facts import Host, Id, Record, Ref, Server

IPv6 = ipaddress.IPv6Address
ENTRY = "entry"  # the role of the service's own name; a machine's is its kind


@dataclass(frozen=True, slots=True)
class Named:
    """A machine, or the entry of the service, with the name that stands for its addresses.

    ``name`` is whole where ``domain`` says which of the plan's domains it lies in; with "" it lies in
    none of them and is what was typed. ``address`` is IPv4 as a number, ``ipv6`` an object; one of
    them is there.
    """

    name: str
    domain: str
    address: int | None
    ipv6: IPv6 | None
    label: str
    role: str
    ref: Ref
    network_id: Id | None = None
    answers_for_names: bool = False

    @property
    def short(self) -> str:
        """Its name without the domain; "" for a name that is the domain itself."""
        if self.domain:
            return self.name.removesuffix(self.domain).rstrip(".")
        return self.name

    @property
    def entry(self) -> bool:
        return self.role == ENTRY


@dataclass(frozen=True)
class Names:
    """Every name that can be said; ``domains`` are the plan's own, longest first."""

    named: tuple[Named, ...]
    problems: tuple[Problem, ...]
    domains: tuple[str, ...]


def names(plan: Plan) -> Names:
    """Every machine's name with its addresses, each name once, and what had to be left out."""
    problems: list[Problem] = []
    reading = _Reading(plan, problems)
    found = [one for one in reading.everybody() if one is not None]
    return Names(tuple(_once(found, problems)), tuple(problems), tuple(reading.domains))


class _Reading:
    """Reads one plan's records."""

    def __init__(self, plan: Plan, problems: list[Problem]):
        self.plan, self.problems, self.checks = plan, problems, Checks(plan)

    @functools.cached_property
    def _suffixes(self) -> dict[Id, str]:
        return {network.id: _domain(network.domain_suffix) for network in self.plan.facts.networks}

    @functools.cached_property
    def _prefixes(self) -> dict[Id | None, ipaddress.IPv6Network | None]:
        return {network.id: prefix_6(network.ipv6_prefix) for network in self.plan.facts.networks}

    @functools.cached_property
    def _own(self) -> str:
        return _domain(self.plan.facts.directory.domain)

    @functools.cached_property
    def domains(self) -> list[str]:
        found = dict.fromkeys((self._own, *self._suffixes.values()))
        return sorted(filter(None, found), key=lambda one: (-one.count("."), one))

    def everybody(self) -> Iterator[Named | None]:
        facts = self.plan.facts
        for server in facts.servers:
            yield self._machine(server, "server")
        for host in facts.hosts:
            yield self._machine(host, "host")
        for appliance in facts.appliances:
            yield self._machine(appliance, "appliance")
        for device in facts.devices:
            yield self._machine(device, "device")
        yield self._entry()

    def _refuse(self, what: str, why: str, at: Ref) -> None:
        self.problems.append(problem(what, why, at))

    def _machine(self, record: Record, role: str) -> Named | None:
        typed = getattr(record, "address", ""), getattr(record, "ipv6_address", "")
        if isinstance(record, Host):
            managed = record.management_name
        else:
            managed = ""
        if managed:
            field = "management_name"
        else:
            field = "name"
        name = host_name(managed or getattr(record, "name", ""))
        if not any(typed):
            if name:
                self._refuse(
                    f"the name of {record.label}", "it has no address", record.ref.at("address")
                )
            return None
        if why := name_fault(name):
            self._refuse(f"the name of {record.label}", why, record.ref.at(field))
            return None
        address, ipv6 = self._address(record, typed[0]), self._ipv6(record, typed[1])
        if address is None and ipv6 is None:
            return None
        network_id = getattr(record, "network_id", None)
        whole, domain = self._whole(name, network_id)
        dns = isinstance(record, Server) and ServerRole.DNS in record.roles
        return Named(whole, domain, address, ipv6, record.label, role, record.ref, network_id, dns)

    def _entry(self) -> Named | None:
        service = self.plan.facts.service
        name = host_name(service.entry_name)
        if not name:
            return None
        what, at = f"the entry name {service.entry_name}", service.ref.at("address")
        if why := name_fault(name):
            self._refuse(what, why, service.ref.at("entry_name"))
            return None
        if service.address_origin == AddressOrigin.DYNAMIC:
            self._refuse(
                what,
                "the service's address is dynamic, and a name that points at it would go astray",
                at,
            )
            return None
        if not service.address:
            self._refuse(what, "the service's address is not recorded", at)
            return None
        address = self._address(service, service.address)
        if address is None:
            return None
        whole, domain = self._whole(name, service.network_id)
        return Named(
            whole, domain, address, None, service.label, ENTRY, service.ref, service.network_id
        )

    def _whole(self, name: str, network_id: Id | None) -> tuple[str, str]:
        """A name with its domain, and that domain: its network's, else the directory's, for a name of one part."""
        if "." not in name:
            domain = (
                self._suffixes.get(network_id, "") if network_id is not None else ""
            ) or self._own
            if domain and not name_fault(f"{name}.{domain}"):
                name = f"{name}.{domain}"
        inside = (
            domain for domain in self.domains if name == domain or name.endswith(f".{domain}")
        )
        return name, next(inside, "")

    def _address(self, record: Record, text: str) -> int | None:
        if text:
            address = ipv4.parse(text)
        else:
            address = None
        if address is None:
            return None
        why = self.checks.address(address, record.ref.at("address"))
        if why:
            self._refuse(f"the address {text} of {record.label}", why, record.ref.at("address"))
        if why:
            return None
        return address

    def _ipv6(self, record: Record, text: str) -> IPv6 | None:
        if not text:
            return None
        address = ipv6_address(text)
        if address is None:
            why = "it is none that other networks can reach"
        else:
            why = self.checks.ipv6(address) or self._outside(record, address)
        if why:
            self._refuse(
                f"the address {text} of {record.label}", why, record.ref.at("ipv6_address")
            )
        if why:
            return None
        return address

    def _outside(self, record: Record, address: IPv6) -> str:
        prefix = self._prefixes.get(getattr(record, "network_id", None))
        if prefix and address not in prefix:
            return f"it lies outside its network's prefix {prefix}"
        return ""


def _domain(text: str) -> str:
    """A domain as DNS keeps it, "" for what is none."""
    name = host_name(text)
    if name_fault(name):
        return ""
    return name


def prefix_6(text: str) -> ipaddress.IPv6Network | None:
    """An IPv6 prefix, None for what is none."""
    try:
        if text:
            return ipaddress.IPv6Network(text, strict=False)
        return None
    except ValueError:
        return None


def _once(found: list[Named], problems: list[Problem]) -> Iterator[Named]:
    """Each name once: names of several machines are left out, unless all speak of the same addresses."""
    by_name: dict[str, list[Named]] = {}
    for one in found:
        by_name.setdefault(one.name, []).append(one)
    for name, same in by_name.items():
        ipv6 = {one.ipv6 for one in same if one.ipv6 is not None}
        if len(same) > 1 and (
            same[0].address is None or len({one.address for one in same}) > 1 or len(ipv6) > 1
        ):
            for one in same:
                problems.append(
                    problem(
                        f"the name {name} of {one.label}",
                        "several machines have that name",
                        one.ref,
                    )
                )
        else:
            yield replace(same[0], ipv6=next(iter(ipv6), None))
