"""What only shows when all rows are seen together: addresses claimed twice, and keys that were sorted apart."""

from __future__ import annotations

import dataclasses
from typing import Any

from planner.plan import work_out
from planner.record.facts import LISTS, Device, Record, SiteFacts
from sites.intake.reading_back.as_it_left import KINDS, Rows
from sites.intake.reading_back.outcome import Refused, Row

APART = (
    "The keys and the other columns were sorted apart: rows bear the values of others. "
    "Undo that, or fill in a new one."
)


def find_clashes(facts: SiteFacts, rows: list[Row]) -> None:
    """Marks addresses that somebody else claims, once all of the sheet was taken."""
    by_holder = {(row.kind, row.pk if row.key else -row.number): row for row in rows if row.changes}
    if not by_holder:
        return
    addressing = work_out(_with(facts, by_holder)).addressing
    for clash in (*addressing.clashes, *addressing.ipv6_clashes):
        for claim in clash.claims:
            row = by_holder.get((claim.holder.kind, claim.holder.id))
            if row:
                changes = [one for one in row.changes if one.field.name == claim.holder.field]
            else:
                changes = []
            if changes and not changes[0].clash:
                others = sorted(
                    f"{one.label} ({one.role})" for one in clash.claims if one is not claim
                )
                changes[0].clash = f"{claim.text} is claimed by {' and '.join(others)} too."


def _with(facts: SiteFacts, rows: dict[tuple[str, int | None], Row]) -> SiteFacts:
    """The facts as they would be if all of the sheet was taken; new devices bear negative ids."""
    values: dict[tuple[str, int | None], dict] = {}
    for at, row in rows.items():
        values[at] = {name: _fact_value(value) for name, value in row.values(take=True).items()}
    added = tuple(
        Device(id=id, **own)
        for (kind, id), own in values.items()
        if kind == "device" and id is not None and id < 0
    )

    def put(record: Record) -> Any:
        own = values.get((record.kind, record.id))
        if own:
            return dataclasses.replace(record, **own)
        return record

    lists: dict[str, Any] = {
        LISTS[kind]: tuple(map(put, getattr(facts, LISTS[kind])))
        for kind in KINDS
        if kind != "service"
    }
    lists["devices"] += added
    return dataclasses.replace(facts, service=put(facts.service), **lists)


def _fact_value(value: Any) -> Any:
    if isinstance(value, list):
        return tuple(value)
    return value


def not_sorted_apart(keyed: list[tuple[Row, dict[str, str]]], then: Rows) -> None:
    """Refuses a sheet in which several rows bear just what other rows bore when it left."""
    bore: dict[tuple[str, ...], set[tuple[str, str]]] = {}
    for at, cells in then.items():
        bore.setdefault(_face(cells), set()).add(at)
    moved = 0
    for row, cells in keyed:
        owners = bore.get(_face(cells), set())
        moved += bool(row.key and cells.get("Address") and owners and row.key.row not in owners)
    if moved > 1:
        raise Refused(APART)


def _face(cells: dict[str, str]) -> tuple[str, ...]:
    """What a person knows a row by."""
    return tuple(
        " ".join(cells.get(name, "").split()) for name in ("Name", "Address", "MAC", "What it is")
    )
