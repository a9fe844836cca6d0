"""The port sheet: every flow, as whoever keeps the firewall needs it."""

from __future__ import annotations

from planner.engine.flows.port_sheet import UNKNOWN, End, Flow
from planner.papers.sheets.parts import Column, ColumnKind, Sheet, Value
from planner.plan import Plan
from planner.record.choices import AnswerState, Transport
from planner.record.facts import Id, Network

ADDRESSES = 1800  # of one cell; a spreadsheet's holds 32,767 letters, and a cut address would be another one
COLUMNS = (
    Column("No.", ColumnKind.INTEGER, 6),
    Column("What", width=20),
    Column("From", width=30),
    Column("From network", width=20),
    Column("From addresses", ColumnKind.ADDRESS, 26),
    Column("To", width=30),
    Column("To network", width=20),
    Column("To addresses", ColumnKind.ADDRESS, 26),
    Column("Protocol", width=10),
    Column("Port", ColumnKind.ADDRESS, 14),
    Column("IANA name", width=16),
    Column("Direction", width=11),
    Column("Crosses", width=20),
    Column("Seen to pass", width=14),
    Column("Why", width=50),
    Column("Source", width=40),
)


def port_sheet(plan: Plan) -> Sheet:
    """Every flow of the plan in the order of its rules, the site's own flows last."""
    networks = {network.id: network for network in plan.facts.networks}
    seen = zip(plan.flows.flows, plan.confirmed, strict=True)
    rows = tuple(_row(at, flow, one.state, networks) for at, (flow, one) in enumerate(seen, 1))
    title = ", ".join(filter(None, ("Port sheet: traffic that must pass", plan.flows.in_short)))
    return Sheet("Ports", title, COLUMNS, rows)


def _row(number: int, flow: Flow, seen: str, networks: dict[Id, Network]) -> tuple[Value, ...]:
    return (
        number,
        flow.name,
        *_end(flow.source, networks),
        *_end(flow.target, networks),
        Transport.words_of(flow.transport) or UNKNOWN,
        flow.ports,
        flow.iana,
        flow.direction,
        flow.crosses,
        AnswerState.words_of(seen),
        flow.why,
        flow.citation,
    )


def _end(end: End, networks: dict[Id, Network]) -> tuple[str, str, str]:
    names = ", ".join(networks[id].label for id in end.network_ids if id in networks)
    if end.outside:
        return end.label, "outside", "any"
    shown = ", ".join(end.addresses[:ADDRESSES])
    if len(end.addresses) > ADDRESSES:
        shown += f" and {len(end.addresses) - ADDRESSES:,} more"
    return end.label, names or UNKNOWN, shown or UNKNOWN
