"""9.1 Addresses: what the page shows of networks, claims and what has no address, made ready from the plan.

A network is never sent address by address beyond 256 of them: a larger one is shown in parts, and the part
that is chosen address by address. The table of claims is cut at :data:`MOST_CLAIMS`; the allocation sheet has
them all.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from django.http import QueryDict
from django.utils.http import urlencode
from django.utils.safestring import SafeString, mark_safe

from planner.engine.addresses import addressing as engine
from planner.engine.addresses import ipv4, layout, lookup, stretches
from planner.engine.addresses.addressing import NetworkSpan
from planner.engine.addresses.claims import Claim
from planner.engine.addresses.ipv4 import Block
from planner.engine.addresses.layout import Proposal
from planner.engine.addresses.roles import AddressState, ClaimRole
from planner.papers.drawings import strips
from planner.papers.drawings.svg import to_svg
from planner.papers.sheets.allocation import TROUBLE, what_it_is
from planner.plan import Plan
from planner.record.facts import Network, Record, Ref
from planner.review.addresses import who
from sites.forms.numbers import whole
from sites.pages import links as places

MOST_CLAIMS = 200  # rows of the table of claims
MOST_TO_SETTLE = 40  # rows of what is wrong; the margin tells all of it
MOST_MISSING = 40  # rows of what has no address; the page that lays them out has more
MOST_NETWORKS = 400  # rows of the list of networks


@dataclass(frozen=True)
class NetworkRow:
    """One network with its fullness. ``full`` is the share of the usable addresses that is not free."""

    network: Network
    span: NetworkSpan
    bar: SafeString
    taken: int
    full: float | None
    chosen: bool
    link: str


@dataclass(frozen=True)
class StretchRow:
    """Addresses side by side that are alike, in words. ``clash`` says that several claim this one."""

    stretch: stretches.Stretch
    words: str
    clash: bool


@dataclass(frozen=True)
class PartRow:
    part: stretches.Part
    link: str


@dataclass(frozen=True)
class Chosen:
    """The network that is looked at: its strip, and the same in rows. ``inside`` is the part of it, None for
    the whole network."""

    network: Network
    span: NetworkSpan
    strip: SafeString
    inside: Block | None
    whole_link: str
    rows: list[StretchRow] = field(default_factory=list)
    parts: list[PartRow] = field(default_factory=list)


@dataclass(frozen=True)
class ClaimRow:
    """One claim. ``settle`` says what is wrong with it, ``take`` the address it could have instead."""

    claim: Claim
    who: str
    network: str
    what: str
    mac: str
    settle: list[str]
    take: str
    link: str
    place: places.Place | None


@dataclass(frozen=True)
class ClaimTable:
    """The claims that were looked for. ``spot`` tells of a single address that was typed."""

    rows: list[ClaimRow]
    found: int
    every: int
    text: str
    spot: lookup.Spot | None

    @property
    def more(self) -> int:
        return self.found - len(self.rows)

    @property
    def only_shows(self) -> bool:
        """Nobody searched, and no row has a button."""
        return not self.text and not any(row.take for row in self.rows)


@dataclass(frozen=True)
class MissingRow:
    """One record without an address, where it is written down, and what it would get."""

    who: str
    place: places.Place | None
    proposal: Proposal


@dataclass(frozen=True)
class Missing:
    """What has no address yet. ``placed`` counts those that can be given one."""

    rows: list[MissingRow]
    count: int
    more: int
    placed: int


def part_of(plan: Plan, asked: QueryDict) -> dict:
    """The context of section 9.1; ``asked`` is the query of the page's address."""
    chosen = _chosen(plan, asked)
    return {
        "address_networks": _networks(plan, chosen),
        "networks_more": max(len(plan.facts.networks) - MOST_NETWORKS, 0),
        "chosen": chosen,
        "settling": _settling(plan),
        "missing": _missing(plan),
        "asked": asked.urlencode(),
        **found(plan, asked),
    }


def found(plan: Plan, asked: QueryDict) -> dict:
    """The context of the table of claims alone."""
    text = asked.get("q", "").strip()[: lookup.LONGEST]
    claims = lookup.find(plan.facts, plan.addressing, text)
    every = len(plan.addressing.claims) + len(plan.addressing.ipv6)
    rows = _claim_rows(plan, claims[:MOST_CLAIMS])
    return {
        "table": ClaimTable(
            rows, len(claims), every, text, lookup.at(plan.addressing, text) if text else None
        )
    }


def svg(drawing, id_prefix: str) -> SafeString:
    return mark_safe(to_svg(drawing, id_prefix))  # noqa: S308  (to_svg escapes what people typed)


# -- networks ----------------------------------------------------------------------------------------


def _networks(plan: Plan, chosen: Chosen | None) -> list[NetworkRow]:
    rows = []
    for network in plan.facts.networks[:MOST_NETWORKS]:
        span = plan.addressing.span(network.id)
        if span is None:
            continue
        usable, free = span.usable or 0, span.free or 0
        taken = max(usable - free - span.dhcp_size, 0)
        if span.block:
            bar = svg(strips.draw_bar(span), f"full-{network.id}")
        else:
            bar = SafeString("")
        if usable:
            full = (usable - free) / usable
        else:
            full = None
        here = chosen is not None and chosen.network.id == network.id
        rows.append(
            NetworkRow(network, span, bar, taken, full, here, urlencode({"network": network.id}))
        )
    return rows


def _chosen(plan: Plan, asked: QueryDict) -> Chosen | None:
    """The network that the address names, else the first whose subnet is known; None when there is none."""
    span = plan.addressing.span(whole(asked.get("network", "")))
    if span is None or span.block is None:
        span = next((one for one in plan.addressing.spans if one.block is not None), None)
    if span is None or span.block is None:
        return None
    window = stretches.window_of(span, asked.get("part", "").strip()) or span.block
    network = next(one for one in plan.facts.networks if one.id == span.network_id)
    close = window.size <= stretches.CLOSE
    return Chosen(
        network,
        span,
        svg(strips.draw(plan, span.network_id, window), "strip"),
        None if window == span.block else window,
        urlencode({"network": span.network_id}),
        _stretch_rows(plan, span, window) if close else [],
        []
        if close
        else [
            PartRow(one, _part_link(span, one.block))
            for one in stretches.parts(plan.addressing, span, window)
        ],
    )


KIND_WORDS = {
    AddressState.FREE: "free",
    AddressState.LEASED: "DHCP range",
    AddressState.UNUSABLE: "not for use",
    AddressState.REFERRED: "pointed at, not recorded",
}


def _stretch_rows(plan: Plan, span: NetworkSpan, window: Block) -> list[StretchRow]:
    clashing = {clash.address for clash in plan.addressing.clashes}
    found = []
    for one in stretches.close(plan.addressing, span, window):
        words = KIND_WORDS.get(one.kind, "")
        if one.claims:
            names = [
                ", ".join(filter(None, (who(claim), _what(plan, claim)))) for claim in one.claims
            ]
            words = "; ".join([*names, f"{one.more} more"] if one.more else names)
        if one.in_range:
            words += " (inside the DHCP range)"
        found.append(StretchRow(one, words, one.first in clashing and bool(one.claims)))
    return found


def _part_link(span: NetworkSpan, block: Block) -> str:
    return urlencode({"network": span.network_id, "part": str(block)})


# -- claims ------------------------------------------------------------------------------------------


def _claim_rows(plan: Plan, claims: list[Claim]) -> list[ClaimRow]:
    """Rows for the claims that are shown; nothing is worked out for the others. Claims are told apart as
    objects: the clashes and problems hold the very claims of the list."""
    addressing = plan.addressing
    shown, addresses = {id(claim) for claim in claims}, {claim.address for claim in claims}
    told: dict[int, list[str]] = {}
    moving: set[int] = set()
    for clash in (*addressing.clashes, *addressing.ipv6_clashes):
        if clash.address in addresses:
            for claim in clash.claims:
                if id(claim) in shown:
                    told.setdefault(id(claim), []).append("claimed more than once")
                    if layout.may_move(claim, clash):
                        moving.add(id(claim))
    for problem in addressing.problems:
        if id(problem.claim) in shown:
            told.setdefault(id(problem.claim), []).append(TROUBLE[problem.kind])
    return [
        _claim_row(plan, claim, told.get(id(claim), []), id(claim) in moving) for claim in claims
    ]


def _settling(plan: Plan) -> list[ClaimRow]:
    """The first claims that cannot stay as they are."""
    addressing = plan.addressing
    wrong: dict[int, Claim] = {}
    for clash in (*addressing.clashes[:MOST_TO_SETTLE], *addressing.ipv6_clashes[:MOST_TO_SETTLE]):
        wrong |= {id(claim): claim for claim in clash.claims[:MOST_TO_SETTLE]}
    wrong |= {id(problem.claim): problem.claim for problem in addressing.problems[:MOST_TO_SETTLE]}
    return _claim_rows(
        plan, sorted(wrong.values(), key=lambda claim: claim.address)[:MOST_TO_SETTLE]
    )


def _claim_row(plan: Plan, claim: Claim, settle: list[str], moves: bool) -> ClaimRow:
    six, record = claim.holder.field == "ipv6_address", plan.facts.find(claim.holder)
    if moves and not six:
        take = engine.next_free(plan.addressing, claim.network_id, claim.role) or ""
    else:
        take = ""
    span = plan.addressing.span(claim.network_id)
    holds = not six and span is not None and span.block is not None and claim.address in span.block
    if span and holds:
        link = urlencode({"network": span.network_id, "part": ipv4.to_text(claim.address)})
    else:
        link = ""
    return ClaimRow(
        claim,
        who(claim),
        plan.facts.named("network", claim.network_id),
        _what(plan, claim),
        _mac(claim, record),
        settle,
        take,
        link,
        places.of_ref(claim.holder),
    )


def _what(plan: Plan, claim: Claim) -> str:
    """What a holder is, where its name does not say so: "the gateway of …", "the console of …"."""
    if claim.role in (ClaimRole.GATEWAY, ClaimRole.OUT_OF_BAND):
        return ""
    return what_it_is(claim.role, plan.facts.find(claim.holder))


def _mac(claim: Claim, record: Record | None) -> str:
    return (
        "" if claim.role == ClaimRole.OUT_OF_BAND else getattr(record, "mac", "")
    )  # a host's MAC is its own port's


# -- what has no address -----------------------------------------------------------------------------


def _missing(plan: Plan) -> Missing:
    every = [*plan.layout.proposals, *plan.layout.left]
    rows = [missing_row(one) for one in every[:MOST_MISSING]]
    return Missing(rows, len(every), len(every) - len(rows), len(plan.layout.proposals))


def missing_row(one: Proposal) -> MissingRow:
    return MissingRow(who(one.wanting), places.of_ref(one.wanting.holder), one)


def taken_by(plan: Plan, at: Ref) -> str:
    """The address that the page offers a record: of the layout when it has none, the next free one when it
    clashes; "" when nothing is offered."""
    proposal = plan.layout.of(at)
    if proposal is not None:
        return proposal.text
    claim = layout.movable(plan.addressing).get(at)
    if claim:
        return engine.next_free(plan.addressing, claim.network_id, claim.role) or ""
    return ""
