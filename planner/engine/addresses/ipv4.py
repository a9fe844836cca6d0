"""IPv4 addresses and prefixes as whole numbers.

A plan may hold a /16 full of claims, so an address is a plain int here; only a prefix is an object.
"""

from __future__ import annotations

from dataclasses import dataclass

_OCTETS = {str(number): number for number in range(256)}
_PREFIXES = {str(number): number for number in range(33)}


def parse(text: str) -> int | None:
    """The number of an address in dotted decimal, ``None`` for anything else.

    Four octets without leading zeros, which some readers take for octal (RFC 6943 §3.1.1).
    """
    try:
        a, b, c, d = text.split(".")
        return _OCTETS[a] << 24 | _OCTETS[b] << 16 | _OCTETS[c] << 8 | _OCTETS[d]
    except (KeyError, ValueError):
        return None


def to_text(address: int) -> str:
    """An address in dotted decimal."""
    return f"{address >> 24}.{address >> 16 & 255}.{address >> 8 & 255}.{address & 255}"


@dataclass(frozen=True, slots=True, order=True)
class Block:
    """A prefix: ``network`` is its lowest address, ``prefix`` its length, 0 to 32."""

    network: int
    prefix: int

    @property
    def size(self) -> int:
        """How many addresses it holds, usable or not: 2^(32 − prefix) (RFC 4632 §3.1)."""
        return 1 << 32 - self.prefix

    @property
    def end(self) -> int:
        """Its highest address."""
        return self.network + self.size - 1

    @property
    def broadcast(self) -> int | None:
        """The broadcast address; a /31 (RFC 3021 §2.1) and a /32 have none."""
        if self.prefix < 31:
            return self.end
        return None

    @property
    def first(self) -> int:
        """The lowest address a machine may have."""
        if self.prefix < 31:
            return self.network + 1
        return self.network

    @property
    def last(self) -> int:
        """The highest address a machine may have."""
        if self.prefix < 31:
            return self.end - 1
        return self.end

    @property
    def usable(self) -> int:
        """Addresses machines may have: the size less network and broadcast address; 2 in a /31, 1 in a /32."""
        return self.last - self.first + 1

    def __contains__(self, address: int) -> bool:
        return address >> 32 - self.prefix == self.network >> 32 - self.prefix

    def holds(self, other: Block) -> bool:
        """Whether the whole of ``other`` lies in this block."""
        return self.prefix <= other.prefix and other.network in self

    def __str__(self) -> str:
        return f"{to_text(self.network)}/{self.prefix}"


def parse_prefix(text: str) -> tuple[int, Block] | None:
    """A prefix in CIDR notation (RFC 4632 §3.1): the address as typed, and the block it lies in.

    ``10.44.1.7/24`` gives the number of 10.44.1.7 and the block 10.44.1.0/24; ``None`` for a text
    that is no prefix.
    """
    head, _, tail = text.partition("/")
    address, prefix = parse(head), _PREFIXES.get(tail)
    if address is None or prefix is None:
        return None
    return address, Block(address >> 32 - prefix << 32 - prefix, prefix)
