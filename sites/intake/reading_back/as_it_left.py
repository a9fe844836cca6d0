"""The allocation sheet as it left: the base against which a filled-in one is read."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from typing import Any

from planner.papers.sheets.files import allocation_sheet
from planner.papers.sheets.keys import HEADING, RowKey, read_key
from planner.papers.sheets.parts import Value
from planner.plan import Plan
from planner.record import facts as f
from planner.record.facts import LISTS, ref_of
from sites.models import RECORD_MODELS, Printed, Revision, Site

KINDS = ("network", "host", "device", "server", "service", "appliance")
Rows = dict[
    tuple[str, str], dict[str, str]
]  # by anchor and part: the text of each cell by its heading


def edit_counters(site: Site) -> dict[str, int]:
    """The edit counters of the records an allocation sheet speaks of, by anchor.

    Whoever prints one asks for them before reading the plan. A record that is saved in between then has an
    older counter than its values on the sheet: read back, they look filled in and are found to stand here
    already. The other way round, the newer values would look like ones to be taken back.
    """
    found = {}
    for kind in KINDS:
        rows = (
            RECORD_MODELS[kind].objects.filter(site=site, removal=None).values_list("pk", "edits")
        )
        found.update({f"{kind}-{pk}": edits for pk, edits in rows})
    return found


def made_here(site: Site, plan: Plan, key: RowKey) -> bool:
    """Whether a sheet with this key was made from this site, here."""
    if key.fingerprint == plan.fingerprint or (key.customer, key.site) == (
        site.customer.code,
        site.code,
    ):
        return True
    mine = {"site": site, "fingerprint": key.fingerprint}
    return Revision.objects.filter(**mine).exists() or Printed.objects.filter(**mine).exists()


def facts_it_left_with(site: Site, plan: Plan, keys: Iterable[RowKey]) -> f.SiteFacts | None:
    """The facts a sheet was made from, as far as it shows them; ``None`` when nobody can tell.

    ``keys`` are all of one fingerprint.
    """
    keys = list(keys)
    if keys[0].fingerprint == plan.fingerprint:
        return plan.facts
    revision = Revision.objects.filter(site=site, fingerprint=keys[0].fingerprint).first()
    if revision:
        return f.from_json(revision.content)
    counters = {key.anchor: key.edits for key in keys if key.edits is not None}
    if counters:
        return _at_counters(site, plan.facts, counters)
    return None


def _at_counters(site: Site, facts: f.SiteFacts, counters: Mapping[str, int]) -> f.SiteFacts:
    """The facts with each record as it was at its edit counter: one query a kind. One whose history does not
    reach back that far is left out."""
    lists: dict = {}
    for kind in KINDS:
        named = ((ref_of(anchor), edits) for anchor, edits in counters.items())
        wanted = {ref.id: edits for ref, edits in named if ref is not None and ref.kind == kind}
        rows = RECORD_MODELS[kind].history.filter(
            site_id=site.pk, id__in=wanted, edits__in=set(wanted.values())
        )
        then = {
            row.id: _fact(kind, row)
            for row in rows.order_by("history_id")
            if wanted[row.id] == row.edits
        }
        if kind == "service":
            lists[kind] = next(iter(then.values()), f.Service())
        else:
            lists[LISTS[kind]] = tuple(then.values())
    return dataclasses.replace(facts, **lists)


def _fact(kind: str, row) -> f.Record:
    wanted = f.RECORDS[kind]
    values: dict[str, Any] = {}
    for one in dataclasses.fields(wanted):
        value = getattr(row, one.name)
        values[one.name] = tuple(value) if isinstance(value, list) else value
    return wanted(**values)


def rows_of(plan: Plan) -> Rows:
    """Every row of a plan's allocation sheet, as its cells read."""
    sheet = allocation_sheet(plan)
    names = [column.title for column in sheet.columns]
    found: Rows = {}
    for values in sheet.rows:
        cells = dict(zip(names, map(_text, values), strict=True))
        found[read_key(cells.pop(HEADING)).row] = cells
    return found


def _text(value: Value) -> str:
    if value is None:
        return ""
    return str(value)
