"""Keeping what was tried: the changed values are saved as if somebody had typed them."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from django.db import transaction

from planner.comparing.whatif import Change, Copies
from planner.comparing.whatif.changes import copy_of, disks_of, names_for
from planner.record.chapters import fields_of
from planner.record.facts import Host, SiteFacts
from sites.actions.locking import hold
from sites.actions.records import add_record, change_record
from sites.actions.stages import Refused
from sites.forms import guard
from sites.models import RECORD_MODELS, Person, Site


@transaction.atomic
def keep(
    *,
    by: Person,
    site: Site,
    facts: SiteFacts,
    changes: Sequence[Change],
    copies: Sequence[Copies],
    opened: dict[str, int],
) -> int:
    """Saves every change, or none; further hosts are added *to buy*. Gives how many records were touched.

    ``opened`` is the edit counter of each record by anchor when the panel was opened. Raises
    :class:`Refused` when somebody else changed one of the same fields since.
    """
    hold(site)
    wanted: dict[tuple[str, int], dict] = {}
    for change in changes:
        wanted.setdefault((change.at.kind, change.at.id), {})[change.at.field] = change.value
    for (kind, pk), values in wanted.items():
        record = RECORD_MODELS[kind].objects.filter(pk=pk, site=site, removal=None).first()
        if record is None:
            raise Refused(f"{guard.REMOVED} Nothing was saved; try again.")
        opened_at = opened.get(record.anchor, record.edits)
        saved = change_record(by=by, kind=kind, pk=pk, opened_at=opened_at, values=values)
        if saved.clashes:
            first = guard.changed(saved.record.changed_by, record)
            raise Refused(f"{first} Nothing was saved; look and try again.")
    added = sum(_add_hosts(by, site, facts, one) for one in copies)
    return len(wanted) + added


def _add_hosts(by: Person, site: Site, facts: SiteFacts, copies: Copies) -> int:
    host = facts.index.get(("host", copies.host_id))
    if not isinstance(host, Host):
        raise Refused("The host to be like was removed meanwhile. Nothing was saved; try again.")
    for name in names_for(facts, host, copies.count):
        made = add_record(by=by, site=site, kind="host", values=_values(copy_of(host, 0, name)))
        for store in disks_of(facts, host.id):
            own = dataclasses.replace(store, host_id=made.pk, name=f"{name} {store.name}"[:200])
            add_record(by=by, site=site, kind="datastore", values=_values(own))
    return copies.count


def _values(record) -> dict:
    return {name: getattr(record, name) for name in fields_of(record.kind)}
