"""A filled-in sheet is written: all of what was confirmed, or nothing."""

from __future__ import annotations

from collections.abc import Container
from typing import Any, Protocol

from django.db import transaction

from sites.actions.locking import hold
from sites.actions.records import add_record, change_record
from sites.actions.rows import RowOutcome
from sites.actions.stages import Refused
from sites.forms import guard
from sites.models import Person, Site


class FilledRow(Protocol):
    """What is asked of a row: its number, whose it is, what it does, and the values that it changes."""

    number: int
    kind: str
    does: RowOutcome
    pk: int | None
    opened_at: int
    changes: list[Any]

    def values(self, take: bool) -> dict[str, Any]: ...


@transaction.atomic
def read_back(
    *, by: Person, site: Site, rows: list[FilledRow], take: Container[int]
) -> tuple[int, int]:
    """Writes what rows change; of conflicts those whose numbers are in ``take``. Gives how many records were
    added and changed. Raises :class:`Refused` when a record has moved on since the rows were looked at."""
    hold(site)
    changed: dict[tuple[str, int], dict[str, Any]] = {}
    opened: dict[tuple[str, int], int] = {}
    added = 0
    for row in rows:
        taken = row.number in take
        if row.does == RowOutcome.REFUSED or not row.changes:
            continue
        if row.pk is not None:
            at = row.kind, row.pk
            changed.setdefault(at, {}).update(row.values(taken))
            opened[at] = row.opened_at
        elif row.does == RowOutcome.ADDED or taken:
            add_record(by=by, site=site, kind=row.kind, values=row.values(take=True))
            added += 1
    for (kind, pk), values in changed.items():
        if values:
            saved = change_record(
                by=by, kind=kind, pk=pk, opened_at=opened[kind, pk], values=values
            )
        else:
            saved = None
        if saved and saved.clashes:
            first = guard.changed(saved.record.changed_by, saved.record)
            raise Refused(f"{first} Nothing was written; look again.")
    return added, sum(bool(values) for values in changed.values())
