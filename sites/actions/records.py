"""What can be done to records: add, change, remove, bring back. Each is one transaction and leaves
a line in the history; each raises the site's counter."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from django.db import IntegrityError, transaction
from django.http import QueryDict
from django.utils import timezone

from planner.record.chapters import sections_of
from planner.record.choices import SitePurpose
from sites.actions.counter import touch
from sites.actions.joining import join_other_ends
from sites.actions.locking import hold, hold_all_of
from sites.actions.stages import Refused, turned_live
from sites.forms import record_form
from sites.forms.guard import Guard
from sites.models import RECORD_MODELS, Directory, Person, Removal, Service, Site, SiteRecord
from sites.models.customers import Customer


@dataclass(frozen=True)
class Clash:
    """A field that two people changed: as it was, as somebody else saved it, as typed here."""

    name: str
    base: Any
    theirs: Any
    own: Any


@dataclass
class Saved:
    """What became of a save: the record, or the clashes that a person must decide."""

    record: Any
    clashes: list[Clash] = field(default_factory=list)
    merged: list[str] = field(default_factory=list)


@transaction.atomic
def make_site(
    *, by: Person, customer: Customer, code: str, name: str, purpose: str = SitePurpose.TRIAL
) -> Site:
    """A new site with its one directory and its one service, both empty.

    Raises :class:`Refused` when the customer has a site of that code."""
    try:
        with transaction.atomic():
            site = Site.objects.create(
                customer=customer, code=code, name=name, purpose=purpose, made_by=by, changed_by=by
            )
    except IntegrityError as error:  # made in this very moment
        raise Refused("Another site of this customer has this code.") from error
    for model in (Directory, Service):
        model.objects.create(site=site, made_by=by, changed_by=by)
    return site


@transaction.atomic
def add_record(*, by: Person, site: Site, kind: str, values: dict) -> SiteRecord:
    hold(site)
    record = RECORD_MODELS[kind].objects.create(site=site, made_by=by, changed_by=by, **values)
    touch(site)
    return record


@transaction.atomic
def change_record(*, by: Person, kind: str, pk: int, opened_at: int, values: dict) -> Saved:
    """Saves what was typed into a record opened at edit counter ``opened_at``.

    If the record has moved on since, fields that only one side changed are merged; where both
    changed the same field nothing is saved and the clashes come back.
    """
    _hold_site_of(kind, pk, values)
    record = RECORD_MODELS[kind].objects.get(pk=pk)
    clashes, values, merged = laid_over(record, opened_at, values)
    if clashes:
        return Saved(record, clashes)
    changed = {name: value for name, value in values.items() if getattr(record, name) != value}
    if changed:
        before = {name: getattr(record, name) for name in changed}
        for name, value in changed.items():
            setattr(record, name, value)
        record.edits += 1
        record.changed_by = by
        record.save()
        if isinstance(record, Site) and changed.get("purpose") == SitePurpose.LIVE:
            turned_live(by=by, site=record)
        if isinstance(record, Site) and "joined" in changed:
            join_other_ends(by=by, site=record, before=before["joined"])
        touch(record if isinstance(record, Site) else record.site)
    return Saved(record, merged=merged)


def _hold_site_of(kind: str, pk: int, values: dict) -> None:
    """Holds the site of a record; all of the customer's where links to others are written, too."""
    if kind == "site":
        site = Site.objects.get(pk=pk)
    else:
        site = RECORD_MODELS[kind].objects.select_related("site").get(pk=pk).site
    if kind == "site" and "joined" in values:
        hold_all_of(site.customer_id)
    else:
        hold(site)


def laid_over(record, opened_at: int, values: dict) -> tuple[list[Clash], dict, list[str]]:
    """What of ``values``, typed into a record opened at edit counter ``opened_at``, is to be saved: where others
    saved it meanwhile, what both changed clashes, and what only they changed is left out and named."""
    if not Guard(opened_at, record.edits).moved:
        return [], values, []
    base = record.history.filter(edits=opened_at).order_by("history_id").last()
    return merge(base, record, values)


def merge(base, current, own: dict) -> tuple[list[Clash], dict, list[str]]:
    """Three-way, field by field. Without a base every difference is a clash."""
    clashes, keep, merged = [], {}, []
    for name, value in own.items():
        theirs = getattr(current, name)
        if base is not None:
            before = getattr(base, name)
        else:
            before = None
        if value == theirs:
            continue
        if base is not None and value == before:
            merged.append(name)  # only they changed it: theirs stays
        elif base is not None and theirs == before:
            keep[name] = value
        else:
            clashes.append(Clash(name, before, theirs, value))
    return clashes, keep, merged


def hangs_on(record: SiteRecord) -> tuple[list[SiteRecord], list[SiteRecord]]:
    """What goes with a record when it is removed, and what merely names it (and will read "not known")."""
    owned: list[SiteRecord] = []
    naming: list[SiteRecord] = []
    kind = record.facts.kind
    own_fields = set(record.owns)
    for other, model in RECORD_MODELS.items():
        for column in model._meta.get_fields():
            if not column.concrete or column.name in ("site", "removal") or not column.many_to_one:
                continue
            if column.related_model is RECORD_MODELS[kind]:
                rows = model.objects.filter(**{column.name: record.pk}, removal=None)
                (owned if (other, column.name) in own_fields else naming).extend(rows)
    return owned, naming


@transaction.atomic
def remove_record(*, by: Person, record: SiteRecord) -> Removal:
    """Removes a record and what cannot stand without it; it can be brought back.

    Each is read anew first: what somebody else has just saved in it comes back with it. One that is removed already
    gives that removal.
    """
    hold(record.site)
    record.refresh_from_db()
    if record.removal is not None:
        return record.removal
    owned, _ = hangs_on(record)
    removal = Removal.objects.create(
        site=record.site, by=by, what=f"{record.facts.kind}: {record}"[:300]
    )
    for one in (record, *owned):
        one.refresh_from_db()
        if one.removal_id is None:
            one.removal, one.changed_by, one.edits = removal, by, one.edits + 1
            one.save()
    touch(record.site)
    return removal


@transaction.atomic
def remove_site(*, by: Person, site: Site) -> Removal:
    """Removes a whole site. What is on it stays as it is and comes back with it."""
    hold(site)
    site.refresh_from_db()
    if site.removal is not None:
        return site.removal
    site.removal = Removal.objects.create(site=site, by=by, what=f"site: {site}"[:300])
    site.changed_by, site.edits = by, site.edits + 1
    site.save()
    touch(site)
    return site.removal


@transaction.atomic
def bring_back(*, by: Person, removal: Removal) -> list[SiteRecord]:
    """Undoes a removal: everything that went comes back as it was. One that is undone already brings nothing."""
    hold(removal.site)
    removal.refresh_from_db()
    if removal.undone_at is not None:
        return []
    back = []
    for model in RECORD_MODELS.values():
        for one in model.objects.filter(removal=removal):
            one.removal, one.changed_by, one.edits = None, by, one.edits + 1
            one.save()
            back.append(one)
    removal.undone_at = timezone.now()
    removal.save()
    touch(removal.site)
    return back


@transaction.atomic
def apply_mend(*, by: Person, site: Site, mend, facts) -> bool:
    """Sets what a finding's mend offers, through the record's form; False when the form refuses it."""
    hold(site)
    model = RECORD_MODELS[mend.record.kind]
    if mend.record.kind == "site":
        record = site
    else:
        record = model.objects.get(pk=mend.record.id, site=site, removal=None)
    wanted = dict(mend.values)
    section = next(
        s for s in sections_of(mend.record.kind) if set(wanted) & {one.name for one in s.fields}
    )
    form = record_form(section, facts, record)
    typed = QueryDict(mutable=True)
    for name, one in form.fields.items():
        value = wanted.get(name, one.prepare_value(form.get_initial_for_field(one, name)))
        if isinstance(value, list | tuple):
            items = value
        elif value is None:
            items = []
        else:
            items = [value]
        typed.setlist(form[name].html_name, [str(item) for item in items])
    filled = record_form(section, facts, record, typed)
    if not filled.is_valid():
        return False
    saved = change_record(
        by=by, kind=mend.record.kind, pk=record.pk, opened_at=record.edits, values=filled.values()
    )
    return not saved.clashes
