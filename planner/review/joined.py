"""Findings about what reaches beyond the site: networks of other sites that a link joins to it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator

from planner.engine.addresses import ipv4
from planner.engine.addresses.ipv4 import Block
from planner.record.choices import NetworkPurpose
from planner.record.facts import Network
from planner.review.base import Hit, rule
from planner.review.networks import spans
from planner.review.words import and_list
from planner.stages.staged import Staged

Far = tuple[Network, str]  # a network of another site, and that site's name


@rule("joined-networks-overlap")
def joined_overlap(plan: Staged) -> Iterator[Hit]:
    known: dict[Block, list[Far]] = {}
    for near in plan.facts.neighbours:
        for network in near.networks:
            read = ipv4.parse_prefix(network.cidr)
            if read:
                known.setdefault(read[1], []).append((network, near.name))
    ordered = sorted(known)
    for network, span, block in spans(plan):
        found = [
            far
            for other in _touching(block, known, ordered)
            for far in known[other]
            if not _is_the_link(network, far[0], other == block)
        ]
        if found:
            others = and_list([f"{far.label} ({far.cidr}) of {name}" for far, name in found])
            yield Hit(network.ref.at("cidr"), network=network.label, cidr=span.cidr, others=others)


def _touching(block: Block, known: dict[Block, list[Far]], ordered: list[Block]) -> list[Block]:
    """The blocks that share an address with one: those that hold it, itself, and those inside it."""
    outer = (
        Block(block.network >> 32 - length << 32 - length, length) for length in range(block.prefix)
    )
    low = bisect_left(ordered, block.network, key=lambda one: one.network)
    high = bisect_right(ordered, block.end, key=lambda one: one.network)
    inner = [one for one in ordered[low:high] if one.prefix >= block.prefix]
    return [*(one for one in outer if one in known), *inner]


def _is_the_link(here: Network, there: Network, same: bool) -> bool:
    """The link's own network, written down at both ends, is one network."""
    return same and here.purpose == there.purpose == NetworkPurpose.REMOTE
