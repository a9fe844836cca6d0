"""What chapter 9 offers to write down: missing addresses, subnets carved, DHCP ranges and leases."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.engine.addresses import carving
from planner.engine.addresses.ipv4 import Block
from planner.engine.addresses.layout import Proposal
from planner.engine.addresses.scopes import Scope
from planner.plan import Plan
from planner.record.facts import Network
from planner.review.addresses import who
from sites.actions.addresses import Offer
from sites.forms.addresses import CarveForm, Wanted

MOST_ROWS = 300  # offers on one page; a browser sends one field for each


# -- addresses ---------------------------------------------------------------------------------------


def of_proposal(one: Proposal) -> Offer:
    holder = one.wanting.holder
    return Offer(holder.at(""), who(one.wanting), ((holder.field, one.text),))


def of_layout(plan: Plan) -> list[Offer]:
    return [of_proposal(one) for one in plan.layout.proposals[:MOST_ROWS]]


# -- subnets -----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class CarvedRow:
    """One subnet wanted and what it would be; ``block`` is None when it does not fit."""

    wanted: Wanted
    grown: int | None
    block: Block | None
    offer: Offer | None

    @property
    def spare(self) -> int | None:
        """Addresses left once it has grown, its gateway counted."""
        if self.block and self.grown is not None:
            return self.block.usable - self.grown - 1
        return None


@dataclass(frozen=True)
class Carved:
    """A supernet divided. ``needed`` is the prefix of the smallest supernet that would hold everything."""

    supernet: Block
    rows: list[CarvedRow]
    free: tuple[Block, ...]
    held: list[tuple[Network, Block, str]]
    whole: bool
    needed: int | None

    @property
    def free_count(self) -> int:
        return sum(block.size for block in self.free)


def carved(form: CarveForm) -> Carved | None:
    """The supernet of a valid form divided; None without a supernet."""
    supernet = form.supernet()
    if supernet is None:
        return None
    wanted, growth = form.wanted(), form.growth()
    prefixes = [carving.prefix_for(one.count, growth) for one in wanted]
    held = carving.held_by(form.facts)
    found = carving.carve(supernet, prefixes, [block for _, block, _ in held])
    rows = [
        CarvedRow(one, carving.grown(one.count, growth), block, _of_subnet(one, block))
        for one, block in zip(wanted, found.blocks, strict=True)
    ]
    inside = [one for one in held if supernet.holds(one[1]) or one[1].holds(supernet)]
    return Carved(
        supernet, rows, found.free, inside, found.whole, carving.smallest_holding(prefixes)
    )


def _of_subnet(wanted: Wanted, block: Block | None) -> Offer | None:
    if wanted.network is None or block is None:
        return None
    return Offer(wanted.network.ref, wanted.name, (("cidr", str(block)),))


def of_carving(form: CarveForm) -> list[Offer]:
    """A subnet for each network of the form that has none; nothing while the form is not valid."""
    if form.is_valid():
        found = carved(form)
    else:
        found = None
    if found:
        return [row.offer for row in found.rows if row.offer][:MOST_ROWS]
    return []


# -- ranges and leases -------------------------------------------------------------------------------


def scopes_of(plan: Plan) -> tuple[Scope, ...]:
    return plan.scopes


def of_scopes(plan: Plan) -> Iterator[Offer]:
    for one in scopes_of(plan)[:MOST_ROWS]:
        network = plan.facts.index[("network", one.network_id)]
        if one.values:
            yield Offer(network.ref, one.name, one.values)
