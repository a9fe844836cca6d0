"""Kinds of texts: as typed, or in the one spelling of their form."""

from __future__ import annotations

import ipaddress
import re
import zoneinfo
from typing import Any, ClassVar

from planner.record.facts import SiteFacts
from planner.record.kinds.base import Described, Kind, parts

_NUMBER = r"(25[0-5]|2[0-4][0-9]|1[0-9][0-9]|[1-9]?[0-9])"
LAST_PORT = 65_535


class Text(Kind):
    word = "text"


class Long(Kind):
    """A text of several lines."""

    word = "long"
    width = 40


class Email(Kind):
    word = "email"


class Spelled(Kind):
    """A text of a form, kept in one spelling. ``wrong`` says what may be typed."""

    wrong: ClassVar[str] = ""

    def spelling(self, text: str) -> str:
        """The canonical spelling. Raises ``ValueError`` for a text of another form."""
        raise NotImplementedError

    def read(self, field: Described, text: str, facts: SiteFacts) -> str:
        try:
            return self.spelling(text)
        except ValueError as error:
            raise ValueError(self.wrong) from error


class Address(Spelled):
    word = "address"
    address = True
    shape = {"format": "ipv4"}
    wrong = "Give an IPv4 address, such as 10.44.1.11."

    def spelling(self, text: str) -> str:
        return str(ipaddress.IPv4Address(text))


class Address6(Spelled):
    """In its usual form (RFC 5952). A zone ("%eth0") means something on one machine only (RFC 4007)."""

    word = "address6"
    address = True
    shape = {"format": "ipv6"}
    wrong = "Give an IPv6 address, such as 2001:db8::11."

    def spelling(self, text: str) -> str:
        if "%" in text:
            raise ValueError(text)
        return str(ipaddress.IPv6Address(text))


class Prefix(Spelled):
    """An IPv4 subnet; the address before its length stays as it was typed."""

    word = "prefix"
    address = True
    shape = {"pattern": rf"^({_NUMBER}\.){{3}}{_NUMBER}/(3[0-2]|[12]?[0-9])$"}
    wrong = "Give a subnet with its prefix length, such as 10.44.1.0/24."

    def spelling(self, text: str) -> str:
        address, _ = text.split("/")
        network = ipaddress.IPv4Network(text, strict=False)
        return f"{ipaddress.IPv4Address(address)}/{network.prefixlen}"


class Prefix6(Spelled):
    word = "prefix6"
    address = True
    shape = {"pattern": "^[0-9a-f:.]+/(12[0-8]|1[01][0-9]|[1-9]?[0-9])$"}
    wrong = "Give an IPv6 prefix, such as 2001:db8:44:1::/64."

    def spelling(self, text: str) -> str:
        return str(ipaddress.IPv6Network(text))


class Mac(Spelled):
    """A hardware address (EUI-48): six pairs, in small letters, with colons."""

    word = "mac"
    width = 19
    address = True
    shape = {"pattern": "^([0-9a-f]{2}:){5}[0-9a-f]{2}$"}
    wrong = "Give a MAC address of six pairs, such as 00:00:5e:00:53:0b."

    def spelling(self, text: str) -> str:
        digits = re.sub(r"[^0-9A-Fa-f]", "", text)
        if len(digits) != 12 or not re.fullmatch(r"[0-9A-Fa-f:.\- ]+", text):
            raise ValueError(text)
        return ":".join(digits[at : at + 2] for at in range(0, 12, 2)).lower()


class Zone(Spelled):
    """A time zone by its name in the IANA database."""

    word = "zone"
    wrong = "Give a time zone by its IANA name, such as Europe/Vienna."

    def spelling(self, text: str) -> str:
        by_name = {name.lower(): name for name in zoneinfo.available_timezones()}
        if text.lower() not in by_name:
            raise ValueError(text)
        return by_name[text.lower()]


class Items(Kind):
    """Several texts, separated by commas or lines. ``wrong`` says what each must be."""

    several = True
    wrong: ClassVar[str] = ""

    def item(self, text: str) -> str:
        """One item in its canonical spelling. Raises ``ValueError`` for none."""
        return text

    def show(self, field: Described, value: Any, facts: SiteFacts) -> str:
        if isinstance(value, tuple | list):
            return ", ".join(value)
        return str(value)

    def read(self, field: Described, text: str, facts: SiteFacts) -> tuple[str, ...]:
        found = []
        for part in parts(text):
            try:
                found.append(self.item(part))
            except ValueError as error:
                raise ValueError(f"“{part}”: {self.wrong}") from error
        return tuple(found)


class Addresses(Items):
    word = "addresses"
    width = 24
    address = True
    shape = {"format": "ipv4"}
    wrong = "give IPv4 addresses, separated by commas."

    def item(self, text: str) -> str:
        return str(ipaddress.IPv4Address(text))


class Names(Items):
    word = "names"
    width = 30


class Ports(Items):
    """Ports with their transport: ``8443/tcp``, ``9000-9010/udp``; without one it is TCP."""

    word = "ports"
    shape = {"pattern": "^[0-9]{1,5}(-[0-9]{1,5})?/(tcp|udp)$"}
    wrong = "give a port and its transport, such as 8443/tcp or 9000-9010/udp."

    def item(self, text: str) -> str:
        pattern = r"([0-9]{1,5})(?:\s*-\s*([0-9]{1,5}))?\s*/?\s*(tcp|udp)?"
        found = re.fullmatch(pattern, text.strip().lower())
        if not found:
            raise ValueError(text)
        first, last = int(found[1]), int(found[2] or found[1])
        if not 1 <= first <= last <= LAST_PORT:
            raise ValueError(text)
        if first == last:
            span = str(first)
        else:
            span = f"{first}-{last}"
        return f"{span}/{found[3] or 'tcp'}"
