"""IPv4 ranges with a special purpose, and what is neither special nor private.

The list is data: ``fixtures/catalogue/special_ranges.toml``. Which ranges are private is said there
as RFC 1918 says it: Python's own ``is_private`` means something wider.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Annotated

from planner.catalogue import files as catalogue
from planner.engine.addresses import ipv4
from planner.engine.addresses.ipv4 import Block
from planner.record.choices import Choice


class SpecialUse(Choice):
    PRIVATE = "private"
    SHARED = "shared"
    LINK_LOCAL = "link-local"
    DOCUMENTATION = "documentation"
    RESERVED = "reserved"


@dataclass(frozen=True, slots=True)
class SpecialRange:
    """One range of the registry."""

    block: Block
    name: str
    use: Annotated[str, SpecialUse]
    words: str
    source: str

    @property
    def private(self) -> bool:
        return self.use == SpecialUse.PRIVATE


@functools.cache
def listed() -> tuple[SpecialRange, ...]:
    """The catalogue's ranges, the most specific first. Raises CatalogueError when one is no prefix."""
    found = []
    for key, entry in catalogue.load("special_ranges").items():
        read = ipv4.parse_prefix(key)
        if read is None or read[0] != read[1].network:
            raise catalogue.CatalogueError(f"special_ranges: {key} is no prefix")
        found.append(SpecialRange(block=read[1], **entry))
    return tuple(sorted(found, key=lambda one: -one.block.prefix))


@functools.cache
def _by_prefix() -> tuple[tuple[int, dict[int, SpecialRange]], ...]:
    """For each prefix length, longest first: the ranges by their leading bits."""
    tables: dict[int, dict[int, SpecialRange]] = {}
    for one in listed():
        shift = 32 - one.block.prefix
        tables.setdefault(shift, {})[one.block.network >> shift] = one
    return tuple(sorted(tables.items()))


def of_address(address: int) -> SpecialRange | None:
    """The most specific special range an address lies in, or ``None``: then it is public."""
    for shift, table in _by_prefix():
        found = table.get(address >> shift)
        if found:
            return found
    return None


def of_block(block: Block) -> SpecialRange | None:
    """The most specific special range that holds the whole block, or ``None``."""
    for shift, table in _by_prefix():
        if shift >= 32 - block.prefix:
            found = table.get(block.network >> shift)
        else:
            found = None
        if found:
            return found
    return None
