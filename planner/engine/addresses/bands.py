"""The house's band plan: which part of a subnet is for which kind of holder.

The bands are data, in 256ths of a subnet: ``fixtures/catalogue/bands.toml``.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass

from planner.catalogue import files as catalogue
from planner.engine.addresses.ipv4 import Block
from planner.engine.addresses.roles import ClaimRole

Run = tuple[int, int]  # first and last address of consecutive ones


@dataclass(frozen=True, slots=True)
class Band:
    """One kind of holder's part: ``low`` and ``high`` are 256ths of the subnet, both included."""

    role: str
    name: str
    low: int
    high: int
    origin: str
    source: str
    why: str


@functools.cache
def listed() -> dict[str, Band]:
    """The bands by role. Raises CatalogueError when one is not within 0 … 255."""
    found = {}
    for role, entry in catalogue.load("bands").items():
        band = Band(role=role, **entry)
        if not 0 <= band.low <= band.high <= 255:
            raise catalogue.CatalogueError(f"bands: {role}: low or high not allowed")
        found[role] = band
    return found


def part(role: str, block: Block) -> Run | None:
    """The addresses of ``block`` that are for holders of ``role``, scaled to the block's size.

    ``None`` for a role without a band, or where the subnet is so small that nothing is left of it;
    gateways always have at least the first usable address.
    """
    band = listed().get(role)
    if band is None:
        return None
    first = max(block.network + block.size * band.low // 256, block.first)
    last = min(block.network + block.size * (band.high + 1) // 256 - 1, block.last)
    if role == ClaimRole.GATEWAY:
        last = max(last, block.first)
    if first <= last:
        return (first, last)
    return None


def search_order(role: str, block: Block) -> list[Run]:
    """Where to look for an address for ``role``: its own band, then all but the gateways', then anywhere."""
    parts = [part(role, block)]
    gateways = part(ClaimRole.GATEWAY, block)
    if role != ClaimRole.GATEWAY and gateways and gateways[1] < block.last:
        parts.append((gateways[1] + 1, block.last))
    parts.append((block.first, block.last))
    return [run for run in parts if run]


def without_address(runs: Sequence[Run], address: int | None) -> list[Run]:
    """``runs`` without one address, in their order."""
    return without(runs, None if address is None else (address, address))


def free_runs(first: int, last: int, taken: Sequence[int]) -> list[Run]:
    """The runs between ``first`` and ``last`` (both included) without the addresses ``taken``, in ascending order."""
    runs, start = [], first
    for address in taken:
        if start <= address <= last:
            if address > start:
                runs.append((start, address - 1))
            start = address + 1
    if start <= last:
        runs.append((start, last))
    return runs


def without(runs: Sequence[Run], cut: Run | None) -> list[Run]:
    """``runs`` without the addresses of ``cut``."""
    if cut is None:
        return list(runs)
    low, high = cut
    kept = []
    for first, last in runs:
        if first < low:
            kept.append((first, min(last, low - 1)))
        if last > high:
            kept.append((max(first, high + 1), last))
    return kept
