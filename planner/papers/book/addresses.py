"""9 Addresses and ports: the address sheet and the port sheet."""

from __future__ import annotations

from collections.abc import Sequence

from planner.engine.addresses import ipv4
from planner.engine.addresses.addressing import NetworkSpan
from planner.engine.addresses.claims import Claim
from planner.engine.flows.ends import UNKNOWN
from planner.engine.flows.port_sheet import Direction
from planner.engine.flows.port_sheet import Flow as Line
from planner.papers.book import notes as notes_module
from planner.papers.book import numbering, parts, pictures, records
from planner.papers.book.bands import Flow, Run
from planner.papers.book.edition import Book
from planner.papers.book.ledger import Cell, Column, Grid, Row, ledger
from planner.papers.book.look import SMALL, SMALL_BOLD, SMALL_SOFT, TEXT, Style
from planner.papers.book.words import listed
from planner.record import chapters, units
from planner.record.choices import Transport

TICK = SMALL._replace(size=9.5)


def addresses(flow: Flow, book: Book) -> None:
    entry = chapters.BY_NUMBER[9]
    parts.chapter(flow, entry.number, entry.name, entry.intro)
    _address_sheet(flow, book)
    _port_sheet(flow, book)
    for one in entry.sections:
        records.section(flow, book, entry, one)
    _names(flow, book)
    notes_module.of_section(flow, book.notes, 9)


# -- addresses -----------------------------------------------------------------------------------


def _address_sheet(flow: Flow, book: Book) -> None:
    addressing = book.plan.addressing
    parts.section(flow, *numbering.ADDRESS_SHEET)
    if not addressing.spans and not addressing.claims and not addressing.ipv6:
        parts.teaching(
            flow,
            "Every address that somebody claims, network by network, follows from chapters 2 to 5.",
            "Before an address is typed into a machine, this is where it is looked up.",
        )
        return
    known = set()
    for span in addressing.spans:
        known.add(span.network_id)
        _span(flow, book, span)
    astray = [claim for claim in addressing.claims if claim.network_id not in known]
    if astray:
        parts.item(flow, "On no network that is written down")
        _claims(flow, book, astray)
    if addressing.ipv6:
        parts.item(flow, "IPv6 addresses")
        _claims(flow, book, addressing.ipv6)


def _span(flow: Flow, book: Book, span: NetworkSpan) -> None:
    network = book.facts.index.get(("network", span.network_id))
    if span.cidr:
        title = f"{span.name}  {span.cidr}"
    else:
        title = f"{span.name}  (subnet not known yet)"
    parts.item(flow, title, gap=14)
    facts = []
    vlan = getattr(network, "vlan", None)
    if vlan is not None:
        facts.append(f"VLAN {vlan}")
    if span.usable is not None:
        facts.append(f"{units.show(span.usable, 0)} usable, {units.show(span.free, 0)} free")
    if span.dhcp:
        facts.append(
            f"DHCP {ipv4.to_text(span.dhcp[0])} to {ipv4.to_text(span.dhcp[1])}, {units.show(span.dhcp_size, 0)} in all"
        )
    prefix = getattr(network, "ipv6_prefix", "")
    if prefix:
        facts.append(f"IPv6 {prefix}")
    if span.free_runs:
        facts.append(f"first free {ipv4.to_text(span.free_runs[0][0])}")
    flow.text(" · ".join(facts), SMALL_SOFT, keep=True)
    flow.gap(3)
    pictures.strip(flow, book, span)
    flow.gap(3)
    if span.claims:
        _claims(flow, book, span.claims)
    else:
        flow.text("Nobody claims an address here.", TEXT)


def _claims(flow: Flow, book: Book, claims: Sequence[Claim]) -> None:
    columns = [
        Column("Address", bold=True, least=0.15),
        Column("Whose", widest=0.32),
        Column("What it is"),
        Column("MAC"),
        Column("Held"),
        Column("Built", blank=True, least=0.14),
    ]
    rows = []
    for claim in claims:
        record = book.facts.find(claim.holder)
        if record:
            built = book.built(record, claim.holder.field)
        else:
            built = []
        under = tuple(
            (("Built:", SMALL_BOLD), (one.value, SMALL_BOLD), (one.reason, SMALL)) for one in built
        )
        mac = getattr(record, "mac", "") or "—"
        cells = (
            Cell(claim.text, book.notes.marks(claim.holder)),
            claim.label,
            claim.role,
            mac,
            claim.held or "—",
            Cell(),
        )
        rows.append(Row(cells, under))
    ledger(flow, columns, rows)


# -- ports ---------------------------------------------------------------------------------------


def _port_sheet(flow: Flow, book: Book) -> None:
    found = book.plan.flows.flows
    parts.section(flow, *numbering.PORT_SHEET, aside=book.plan.flows.in_short)
    if not found:
        parts.teaching(flow, "The traffic that must pass follows from chapters 2 to 7.")
        return
    flow.text(
        "Who must reach whom, on which port, and what stands between. Tick a port when somebody has tried it from one "
        "end to the other; a rule that was ordered is not a port that answers.",
        TEXT,
        room=flow.measure * 0.9,
    )
    flow.gap(3)
    columns = [
        Column("From", widest=0.3, least=0.2),
        Column("To", widest=0.3, least=0.2),
        Column("Crosses", widest=0.16),
        Column("Why", widest=0.4, least=0.28),
    ]
    ledger(flow, columns, [_flows(book, group) for group in _grouped(found)])


def _grouped(found: Sequence[Line]) -> list[list[Line]]:
    """Flows that differ in nothing but their port are one row with several boxes to tick."""
    groups: dict[tuple[object, ...], list[Line]] = {}
    for one in found:
        key = (
            one.source,
            one.target,
            one.direction,
            one.crosses,
            one.why,
            one.citation,
            one.record,
        )
        groups.setdefault(key, []).append(one)
    return list(groups.values())


def _flows(book: Book, group: list[Line]) -> Row:
    one = group[0]
    if one.record:
        marks = book.notes.marks(one.record)
    else:
        marks = ()
    number = book.cite(one.citation)
    if number:
        why = f"{one.why} [{number}]"
    else:
        why = one.why
    ends: list[Run] = []
    for word, end in (("From", one.source), ("to", one.target)):
        shown = listed(end.addresses, 12)
        if shown:
            ends += [(word, SMALL_SOFT), (shown, SMALL)]
    under: list[Grid | tuple[Run, ...]] = [Grid(tuple(_port(flow) for flow in group), columns=4)]
    if ends:
        under.insert(0, tuple(ends))
    crosses = _crosses(one.crosses) + (
        ", both ways" if one.direction == Direction.BOTH_WAYS else ""
    )
    return Row((Cell(one.source.label, marks), one.target.label, crosses, why), tuple(under))


def _port(flow: Line) -> tuple[tuple[str, Style], ...]:
    """``☐ 53/TCP domain``."""
    transport = Transport.words_of(flow.transport) or UNKNOWN
    if not flow.ports:
        port = transport
    else:
        port = f"{flow.ports}/{transport}"
    if UNKNOWN in (flow.ports, transport):
        port = "port not known yet"
    return (("☐", TICK), (port, SMALL_BOLD), (flow.iana, SMALL_SOFT))


def _crosses(words: str) -> str:
    return {"firewall": "a firewall", "not known": "not known yet"}.get(words, words)


# -- names ---------------------------------------------------------------------------------------


def _names(flow: Flow, book: Book) -> None:
    """What the desktops will be called: whoever keeps the DNS and the directory wants to know."""
    templates = book.plan.naming.names
    if not templates:
        return
    parts.section(flow, *numbering.NAMES)
    columns = [
        Column("Desktop template", bold=True),
        Column("First"),
        Column("Last"),
        Column("Names", numeric=True),
        Column("The digits allow", numeric=True),
    ]
    rows = [
        Row(
            (
                one.label,
                one.first or "",
                one.last or "",
                units.show(one.count, 0),
                units.show(one.capacity, 0),
            )
        )
        for one in templates
    ]
    ledger(flow, columns, rows, blanks=False)
