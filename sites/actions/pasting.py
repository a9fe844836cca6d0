"""Rows from a spreadsheet are written: all of what was confirmed, or nothing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db import transaction

from planner.record.chapters import fields_of, show_value, with_unit
from sites.actions.locking import hold
from sites.actions.records import Clash, add_record, change_record
from sites.actions.stages import Refused
from sites.forms import guard
from sites.loading import read_site
from sites.models import RECORD_MODELS, Person, Site


@dataclass(frozen=True)
class Row:
    """What one row writes: into the record ``pk`` as it stood at edit counter ``opened_at``, or a new one."""

    values: dict[str, Any]
    pk: int | None = None
    opened_at: int = 0


@transaction.atomic
def write_rows(*, by: Person, site: Site, kind: str, rows: Iterable[Row]) -> int:
    """Writes every row, or none; gives how many. Raises :class:`Refused` where somebody else has written the same."""
    hold(site)
    written = 0
    for row in rows:
        if row.pk is None:
            add_record(by=by, site=site, kind=kind, values=row.values)
            written += 1
        elif _change(by, site, kind, row):
            written += 1
    return written


def _change(by: Person, site: Site, kind: str, row: Row) -> bool:
    """Whether the record changed: what others alone have changed since the look stays as they left it."""
    rows_of_kind = RECORD_MODELS[kind].objects.filter(pk=row.pk, site=site, removal=None)
    standing = rows_of_kind.first()
    if standing is None:
        raise Refused(f"{guard.REMOVED} Nothing was written; look again.")
    saved = change_record(
        by=by, kind=kind, pk=standing.pk, opened_at=row.opened_at, values=row.values
    )
    if saved.clashes:
        who = guard.changed(standing.changed_by, standing)
        told = " ".join(_told(site, kind, clash) for clash in saved.clashes)
        raise Refused(f"{who} {told} Nothing was written; look again.")
    return saved.record.edits > standing.edits


def _told(site: Site, kind: str, clash: Clash) -> str:
    """Both values of a field, in words."""
    field = fields_of(kind)[clash.name]
    facts = read_site(site)
    theirs, own = (
        with_unit(field, show_value(field, value, facts)) or "nothing"
        for value in (clash.theirs, clash.own)
    )
    return f"{field.label}: they wrote {theirs}, the rows say {own}."
