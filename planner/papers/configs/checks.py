"""Which of the plan's addresses, names and MACs may stand in a configuration.

The programs' own checkers accept addresses that two machines claim, MACs that stand twice, and names
no client resolves; a person would notice on Monday. Each check gives the reason in words, "" for none.
"""

from __future__ import annotations

import functools
import ipaddress
import re
from collections import Counter

from planner.engine.addresses import ipv4, special_ranges
from planner.engine.addresses.addressing import ProblemKind
from planner.engine.addresses.claims import Clash
from planner.engine.addresses.ipv4 import Block
from planner.engine.addresses.special_ranges import SpecialUse
from planner.engine.names import dns_names
from planner.engine.names.dns_names import NameFault
from planner.plan import Plan
from planner.record.facts import Appliance, Device, Host, Ref, Server, SiteFacts
from planner.review.words import and_list

ASTRAY = {
    ProblemKind.LINK_LOCAL: "a link-local address: DHCP did not answer when it was noted",
    ProblemKind.SPECIAL: "an address of a range that is no ordinary network",
    ProblemKind.OUTSIDE: "it lies outside its own network",
    ProblemKind.NETWORK_ADDRESS: "it is its network's own address, which nobody may have",
    ProblemKind.BROADCAST_ADDRESS: "it is its network's broadcast address",
}
NAME_FAULTS = {
    NameFault.EMPTY: "it has no name",
    NameFault.LONG: "its name is too long for DNS",
    NameFault.LABEL_LONG: "a part of its name is too long",
    NameFault.LABEL_EMPTY: "its name has an empty part",
    NameFault.CHARACTERS: "its name has letters or signs that a host's name may not have (RFC 1123)",
    NameFault.HYPHEN: "a part of its name starts or ends with a hyphen",
    NameFault.ALL_DIGITS: "its name would read as an address",
    NameFault.ADDRESS: "its name is an address",
}
_MAC = re.compile(r"[0-9A-Fa-f]{2}(?:([:-])[0-9A-Fa-f]{2})(?:\1[0-9A-Fa-f]{2}){4}\Z")
_USES = (
    SpecialUse.RESERVED,
    SpecialUse.LINK_LOCAL,
)  # of special ranges: nothing at a site has an address there


def mac(text: str) -> str | None:
    """A MAC in small letters with colons; None for what is none of one machine (a group's, all noughts)."""
    if not _MAC.match(text):
        return None
    found = text.lower().replace("-", ":")
    group = (
        int(found[:2], 16) & 1
    )  # Source: IEEE 802-2014, 8.2 (as quoted in code): octet 1's lowest bit tells a group
    if group or found == "00:00:00:00:00:00":
        return None
    return found


def ordinary(address: int) -> bool:
    """Whether machines of a site can have an IPv4 address (RFC 6890: not loopback, multicast and the like)."""
    special = special_ranges.of_address(address)
    return special is None or special.use not in _USES


def ordinary_block(block: Block) -> str:
    """Why a subnet cannot be a site's network, "" when it can."""
    special = special_ranges.of_block(block)
    if block.prefix < 8:
        return "its subnet is larger than any network"
    if special and special.use in _USES:
        return "its subnet is of a range that is no ordinary network"
    return ""


def name_fault(name: str) -> str:
    """Why a text cannot be a host's name or a domain, "" when it can."""
    if name.lower().removesuffix(".").rpartition(".")[2] == "arpa":
        return "its name ends in arpa, where names of addresses stand"
    return next(
        (NAME_FAULTS.get(fault, str(fault)) for fault in dns_names.host_name_faults(name)), ""
    )


def ipv6_address(text: str) -> ipaddress.IPv6Address | None:
    """An IPv6 address that a machine keeps and others reach; None for link-local, multicast and the like."""
    try:
        address = ipaddress.IPv6Address(text)
    except ValueError:
        return None
    special = (
        address.is_link_local,
        address.is_multicast,
        address.is_loopback,
        address.is_unspecified,
    )
    if any(special) or address.ipv4_mapped or address.scope_id:
        return None
    return address


class Checks:
    """What is known to be wrong with one plan's addresses and MACs."""

    def __init__(self, plan: Plan):
        self.plan = plan

    @functools.cached_property
    def _clashing(self) -> dict[int, str]:
        return _rivals(self.plan.addressing.clashes)

    @functools.cached_property
    def _clashing_6(self) -> dict[int, str]:
        return _rivals(self.plan.addressing.ipv6_clashes)

    @functools.cached_property
    def _astray(self) -> dict[Ref, str]:
        found = (
            (one.claim.holder, ASTRAY.get(one.kind, "")) for one in self.plan.addressing.problems
        )
        return {holder: reason for holder, reason in found if reason}

    @functools.cached_property
    def _macs(self) -> Counter[str]:
        return Counter(found for text in _macs(self.plan.facts) if (found := mac(text)))

    def address(self, address: int, holder: Ref) -> str:
        """Why an IPv4 address that a record's field claims cannot be relied on."""
        if address in self._clashing:
            return f"claimed more than once, by {self._clashing[address]}"
        if holder in self._astray:
            return self._astray[holder]
        if ordinary(address):
            return ""
        return ASTRAY[ProblemKind.SPECIAL]

    def ipv6(self, address: ipaddress.IPv6Address) -> str:
        """The same of an IPv6 address."""
        clash = self._clashing_6.get(int(address))
        if clash:
            return f"claimed more than once, by {clash}"
        return ""

    def twice(self, mac: str) -> bool:
        """Whether several records have a MAC."""
        return self._macs[mac] > 1

    @functools.cached_property
    def unsafe(self) -> dict[str, str]:
        """Every IPv4 address claimed by somebody that cannot be relied on, as text, with the reason."""
        found = ((one.text, one.address, one.holder) for one in self.plan.addressing.claims)
        return {
            text: why for text, address, holder in found if (why := self.address(address, holder))
        }


def _rivals(clashes: tuple[Clash, ...]) -> dict[int, str]:
    return {one.address: and_list([claim.label for claim in one.claims]) for one in clashes}


def _macs(facts: SiteFacts) -> list[str]:
    records: tuple[Host | Server | Appliance | Device, ...]
    records = (*facts.hosts, *facts.servers, *facts.appliances, *facts.devices)
    return [record.mac for record in records]


def host_name(text: str) -> str:
    """A name as DNS keeps it: small letters, no dot at the end."""
    return text.strip().removesuffix(".").lower()


def read_address(text: str) -> int | None:
    """An IPv4 address that machines of a site can have, as a number."""
    found = ipv4.parse(text)
    if found is not None and ordinary(found):
        return found
    return None
