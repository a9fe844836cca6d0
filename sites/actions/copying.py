"""A site copied to a new one: another floor, another customer."""

from __future__ import annotations

import re
from typing import Any

from django.db import transaction

from planner.chapters import fields_of
from sites.actions.counter import touch
from sites.actions.records import make_site
from sites.actions.stages import give_answer
from sites.models import RECORD_MODELS, Answer, Assumed, Customer, Person, Site, SiteRecord

ADDRESS_KINDS = ("address", "address6", "addresses", "prefix", "prefix6", "mac")
LEFT_BEHIND = {"site": ("name", "code", "on_site_date", "go_live_date")}  # the new site has its own
NOT_COPIED = ("built",)  # what was built there was not built here
_ANCHOR = re.compile(r"@([a-z]+)-(\d+)")


@transaction.atomic
def copy_site(
    *, by: Person, source: Site, customer: Customer, name: str, code: str, with_addresses: bool = False,
    with_answers: bool = False, may_excuse: bool = False,
) -> Site:  # fmt: skip
    """Makes a new site with everything the old one's plan says.

    Left out: dates, revisions, signatures, acceptances and built values; addresses unless asked for.
    Answers come as they are *on trust* or *excused* (an excusal on a live site only if ``may_excuse``);
    what was proven or failed there is open here.
    """
    made = make_site(by=by, customer=customer, code=code, name=name, purpose=source.purpose)
    copied = _copy_records(by, source, made, with_addresses)
    for old in Assumed.objects.filter(site=source):
        old.pk, old.site = None, made
        old.save(force_insert=True)
    if with_answers:
        _copy_answers(by, source, made, copied, may_excuse)
    touch(made)
    return made


def _copy_records(by: Person, source: Site, made: Site, with_addresses: bool) -> dict[tuple[str, int], int]:
    """Copies every present record; gives the new id of each old one."""
    news: list[tuple[str, SiteRecord, SiteRecord]] = []
    copied: dict[tuple[str, int], int] = {("site", source.pk): made.pk}
    for kind, model in RECORD_MODELS.items():
        if kind in NOT_COPIED:
            continue
        olds = [source] if kind == "site" else model.objects.filter(site=source, removal=None).order_by("pk")
        for old in olds:
            new = made if kind == "site" else _blank(model, made, kind, by)
            new.save()
            copied[(kind, old.pk)] = new.pk
            news.append((kind, old, new))
    for kind, old, new in news:  # references only now: every record has its new id
        for field, value in _values(kind, old, copied, with_addresses):
            setattr(new, field, value)
        new.save()
    return copied


def _blank(model: type[SiteRecord], site: Site, kind: str, by: Person) -> SiteRecord:
    """A new record; the one directory and the one service stand already."""
    if kind in ("directory", "service"):
        return model.objects.get(site=site)
    return model(site=site, made_by=by, changed_by=by)


def _values(kind: str, old: SiteRecord, copied: dict, with_addresses: bool) -> list[tuple[str, Any]]:
    found = []
    for name, field in fields_of(kind).items():
        value = getattr(old, name)
        if name in LEFT_BEHIND.get(kind, ()) or (not with_addresses and field.kind in ADDRESS_KINDS):
            continue
        if field.kind == "record":
            value = copied.get((field.to, value))
        elif field.kind == "records":
            value = [copied[(field.to, id)] for id in value if (field.to, id) in copied]
        found.append((name, value))
    return found


def _copy_answers(by: Person, source: Site, made: Site, copied: dict, may_excuse: bool) -> None:
    keep = {"trust", "excused"} if may_excuse or made.purpose != "live" else {"trust"}
    for old in Answer.objects.filter(site=source, newest=True, state__in=keep).select_related("by").order_by("pk"):
        key = _key_here(old.check_key, copied)
        if key:
            words = f"Copied from {source}, where {old.by or 'somebody'} answered: {old.proof}".rstrip(": ")
            give_answer(by=by, site=made, key=key, state=old.state, proof=words[:4000])


def _key_here(key: str, copied: dict[tuple[str, int], int]) -> str:
    """A check's key with the anchor of the copied record, or "" when the record was not copied."""
    found = _ANCHOR.search(key)
    if not found:
        return key
    new = copied.get((found[1], int(found[2])))
    return key[: found.start()] + f"@{found[1]}-{new}" + key[found.end() :] if new else ""
