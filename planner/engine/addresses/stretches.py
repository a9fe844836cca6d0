"""Stretches: a network told in rows, from its lowest address to its highest.

Addresses that are alike and stand side by side make one row. A window of up to 256 addresses is told address
by address; a larger one in parts of equal size, of which those that are alike and empty are joined, so that
no network ever makes more than some 256 rows.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from planner.engine.addresses import ipv4
from planner.engine.addresses.addressing import Addressing, NetworkSpan
from planner.engine.addresses.bands import Run
from planner.engine.addresses.claims import Claim
from planner.engine.addresses.ipv4 import Block
from planner.engine.addresses.roles import AddressState

CLOSE = 256  # a window of no more addresses is told one by one
MOST_CLAIMS = 20  # told of one address


@dataclass(frozen=True, slots=True)
class Stretch:
    """Addresses from ``first`` to ``last`` (both included) that are alike.

    ``claims`` are of one address; ``more`` counts those
    that are not told; ``in_range`` says whether a claimed address lies in the DHCP range.
    """

    first: int
    last: int
    kind: AddressState
    claims: tuple[Claim, ...] = ()
    more: int = 0
    in_range: bool = False

    @property
    def count(self) -> int:
        return self.last - self.first + 1

    @property
    def first_text(self) -> str:
        return ipv4.to_text(self.first)

    @property
    def last_text(self) -> str:
        return ipv4.to_text(self.last)


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a large window, or several alike side by side: ``block`` is the first of them.

    ``taken`` counts addresses that anybody claims or points at, ``clashes`` those that several claim,
    ``leased`` those of the DHCP range that nobody claims, ``free`` the rest that machines may have.
    """

    block: Block
    last: int
    taken: int
    clashes: int
    leased: int
    free: int

    @property
    def first_text(self) -> str:
        return ipv4.to_text(self.block.network)

    @property
    def last_text(self) -> str:
        return ipv4.to_text(self.last)


def window_of(span: NetworkSpan, text: str) -> Block | None:
    """The part of a network that an address or a prefix names: at least 256 addresses where the network has
    as many, never more than the network; the network itself for any other text. None without a subnet."""
    if span.block is None:
        return None
    read = ipv4.parse_prefix(text if "/" in text else f"{text}/24")
    if read is None or not span.block.holds(read[1]):
        return span.block
    prefix = max(min(read[1].prefix, 24), span.block.prefix)
    return Block(read[0] >> 32 - prefix << 32 - prefix, prefix)


def close(addressing: Addressing, span: NetworkSpan, window: Block) -> list[Stretch]:
    """A window of a network address by address: at most 256 of them, the first when it holds more."""
    if span.block is None:
        return []
    end = min(window.end, window.network + CLOSE - 1)
    claims = _claims_by_address(addressing, window.network, end)
    taken = set(span.taken[bisect_left(span.taken, window.network) : bisect_right(span.taken, end)])
    found: list[Stretch] = []
    for address in range(window.network, end + 1):
        one = _alone(address, span, claims, taken)
        if found:
            before = found[-1]
        else:
            before = None
        if (
            before
            and one.kind == before.kind
            and one.kind in (AddressState.FREE, AddressState.LEASED)
        ):
            found[-1] = Stretch(before.first, address, one.kind)
        else:
            found.append(one)
    return found


def _alone(
    address: int, span: NetworkSpan, claims: dict[int, list[Claim]], taken: set[int]
) -> Stretch:
    leased = span.dhcp is not None and span.dhcp[0] <= address <= span.dhcp[1]
    usable = span.block is not None and span.block.first <= address <= span.block.last
    if address in claims:
        here = claims[address]
        return Stretch(
            address,
            address,
            AddressState.CLAIMED,
            tuple(here[:MOST_CLAIMS]),
            max(len(here) - MOST_CLAIMS, 0),
            leased,
        )
    if address in taken:
        return Stretch(address, address, AddressState.REFERRED, in_range=leased)
    if not usable:
        return Stretch(address, address, AddressState.UNUSABLE)
    return Stretch(address, address, AddressState.LEASED if leased else AddressState.FREE)


def _claims_by_address(addressing: Addressing, low: int, high: int) -> dict[int, list[Claim]]:
    start = bisect_left(addressing.claims, low, key=lambda claim: claim.address)
    stop = bisect_right(addressing.claims, high, key=lambda claim: claim.address)
    found: dict[int, list[Claim]] = {}
    for claim in addressing.claims[start:stop]:
        found.setdefault(claim.address, []).append(claim)
    return found


def parts(addressing: Addressing, span: NetworkSpan, window: Block) -> list[Part]:
    """A large window in parts: of 256 addresses each in a /16 and smaller ones, else 256 parts."""
    if span.block is None:
        return []
    prefix = min(24, window.prefix + 8)
    size = 1 << 32 - prefix
    clashes = [clash.address for clash in addressing.clashes]
    leased = _leased_runs(span)
    found: list[Part] = []
    for network in range(window.network, window.end + 1, size):
        end = network + size - 1
        one = Part(
            Block(network, prefix),
            end,
            _between(span.taken, network, end),
            _between(clashes, network, end),
            _shared(leased, network, end),
            _shared(span.free_runs, network, end),
        )
        if found:
            before = found[-1]
        else:
            before = None
        if (
            before
            and not before.taken
            and not one.taken
            and (before.leased > 0) == (one.leased > 0)
        ):
            found[-1] = Part(
                before.block, end, 0, 0, before.leased + one.leased, before.free + one.free
            )
        else:
            found.append(one)
    return found


def _leased_runs(span: NetworkSpan) -> list[Run]:
    """The DHCP range without the addresses that somebody claims or refers to, inside the subnet."""
    if span.dhcp is None or span.block is None:
        return []
    low, high = max(span.dhcp[0], span.block.first), min(span.dhcp[1], span.block.last)
    if low <= high:
        return list(_runs(low, high, span.taken))
    return []


def _runs(low: int, high: int, taken: Sequence[int]) -> Iterator[Run]:
    start = low
    for address in taken[bisect_left(taken, low) : bisect_right(taken, high)]:
        if address > start:
            yield start, address - 1
        start = address + 1
    if start <= high:
        yield start, high


def _between(addresses: Sequence[int], low: int, high: int) -> int:
    return bisect_right(addresses, high) - bisect_left(addresses, low)


def _shared(runs: Sequence[Run], low: int, high: int) -> int:
    """How many addresses of ascending runs lie between two addresses."""
    total = 0
    for at in range(max(bisect_right(runs, (low, 1 << 32)) - 1, 0), len(runs)):
        first, last = runs[at]
        if first > high:
            break
        total += max(min(last, high) - max(first, low) + 1, 0)
    return total
