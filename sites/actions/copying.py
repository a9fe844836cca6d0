"""A site copied to a new one: another floor, another customer."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any

from django.db import transaction

from planner.record import kinds
from planner.record.chapters import Field, fields_of
from planner.record.choices import AnswerState, SitePurpose
from planner.record.facts import ref_of
from sites.actions.counter import touch
from sites.actions.locking import hold
from sites.actions.records import make_site
from sites.actions.secrets import copy_said
from sites.actions.stages import give_answer
from sites.models import RECORD_MODELS, Answer, Assumed, Customer, Person, Site, SiteRecord

LEFT_BEHIND = {
    "site": ("name", "code", "on_site_date", "go_live_date", "joined")
}  # the new site has its own
NOT_COPIED = ("built",)  # what was built there was not built here
_ANCHOR = re.compile(r"@([a-z]+-[0-9]{1,18})(?![0-9])")


@transaction.atomic
def copy_site(
    *,
    by: Person,
    source: Site,
    customer: Customer,
    name: str,
    code: str,
    with_addresses: bool = False,
    with_answers: bool = False,
    may_excuse: bool = False,
) -> Site:
    """Makes a new site with everything the old one's plan says.

    Left out: dates, revisions, signatures, acceptances and built values; addresses unless asked for.
    Answers come as they are *on trust* or *excused* (an excusal on a live site only if ``may_excuse``);
    what was proven or failed there is open here.
    """
    hold(source)
    made = make_site(by=by, customer=customer, code=code, name=name, purpose=source.purpose)
    copied = _copy_records(by, source, made, with_addresses)
    for old in Assumed.objects.filter(site=source):
        old.pk, old.site = None, made
        old.save(force_insert=True)
    copy_said(source=source, made=made)
    if with_answers:
        _copy_answers(by, source, made, copied, may_excuse)
    touch(made)
    return made


def _copy_records(
    by: Person, source: Site, made: Site, with_addresses: bool
) -> dict[tuple[str, int], int]:
    """Copies every present record; gives the new id of each old one."""
    olds: list[tuple[str, int, Any]] = [("site", source.pk, source)]
    for kind, model in RECORD_MODELS.items():
        if kind not in ("site", *NOT_COPIED):
            rows = model.objects.filter(site=source, removal=None).order_by("pk")
            olds += [(kind, row.pk, row) for row in rows]

    def stays(kind: str, field: Field) -> bool:
        return field.name in LEFT_BEHIND.get(kind, ()) or (
            not with_addresses and field.kind.address
        )

    return put_records(by=by, made=made, olds=olds, stays=stays)


@transaction.atomic
def put_records(
    *,
    by: Person,
    made: Site,
    olds: Iterable[tuple[str, int, Any]],
    stays: Callable[[str, Field], bool],
) -> dict[tuple[str, int], int]:
    """Writes records of elsewhere into a new site: rows or facts, as (kind, id there, record).

    Fields that ``stays`` names keep their empty value. References follow their records; one to a record that
    is not among them is unknown. Gives the new id of each old one, by kind and old id.
    """
    hold(made)
    olds = list(olds)
    awaited = {(kind, id) for kind, id, _ in olds}
    copied: dict[tuple[str, int], int] = {}
    early: list[tuple[Any, SiteRecord, list[Field]]] = []  # whose references were not all there yet
    for kind, id, old in olds:
        if kind == "site":
            new = made
        else:
            new = _blank(RECORD_MODELS[kind], made, kind, by)
        fields = [field for field in fields_of(kind).values() if not stays(kind, field)]
        if any(awaited.intersection(_named(field, getattr(old, field.name))) for field in fields):
            early.append((old, new, fields))
        _fill(old, new, fields, copied)
        copied[(kind, id)] = new.pk
        awaited.discard((kind, id))
    for old, new, fields in early:
        _fill(old, new, fields, copied)
    touch(made)
    return copied


def _fill(
    old: Any, new: SiteRecord, fields: Iterable[Field], copied: dict[tuple[str, int], int]
) -> None:
    for field in fields:
        setattr(new, field.name, _value(field, getattr(old, field.name), copied))
    new.save()


def _named(field: Field, value: Any) -> set[tuple[str, int]]:
    """The records that a field's value names, by kind and id."""
    if field.kind is kinds.RECORD:
        return {(field.to, value)}
    if field.kind is kinds.RECORDS:
        return {(field.to, id) for id in value}
    if field.kind is kinds.ANY_RECORD:
        named = ref_of(value)
    else:
        named = None
    if named:
        return {(named.kind, named.id)}
    return set()


def _blank(model: type[SiteRecord], site: Site, kind: str, by: Person) -> SiteRecord:
    """A new record; the one directory and the one service stand already."""
    if kind in ("directory", "service"):
        return model.objects.get(site=site)
    return model(site=site, made_by=by, changed_by=by)


def _value(field: Field, value: Any, copied: dict[tuple[str, int], int]) -> Any:
    if field.kind is kinds.RECORD:
        return copied.get((field.to, value))
    if field.kind is kinds.RECORDS:
        return [copied[(field.to, id)] for id in value if (field.to, id) in copied]
    if field.kind is kinds.ANY_RECORD:
        if value:
            return key_here(f"@{value}", copied).removeprefix("@")
        return ""
    if isinstance(value, tuple):
        return list(value)
    return value


def _copy_answers(by: Person, source: Site, made: Site, copied: dict, may_excuse: bool) -> None:
    found = Answer.objects.filter(site=source, newest=True).select_related("by").order_by("pk")
    said = [
        (one.check_key, one.state, f"Copied from {source}, {_where(one.by, one.proof)}")
        for one in found
    ]
    put_answers(by=by, made=made, said=said, copied=copied, may_excuse=may_excuse)


def _where(by: object, proof: str) -> str:
    return f"where {by or 'somebody'} answered: {proof}".rstrip(": ")


@transaction.atomic
def put_answers(
    *, by: Person, made: Site, said: Iterable[tuple[str, str, str]], copied: dict, may_excuse: bool
) -> None:
    """Writes answers of elsewhere, as (check's key there, state, words): only what was *on trust* or *excused*, and
    an excusal on a live site only if ``may_excuse``. Nobody has looked here yet: nothing comes as proven or failed."""
    hold(made)
    keep = {AnswerState.TRUST}
    if may_excuse or made.purpose != SitePurpose.LIVE:
        keep.add(AnswerState.EXCUSED)
    for there, state, words in said:
        if state in keep:
            key = key_here(there, copied)
        else:
            key = ""
        if key:
            give_answer(by=by, site=made, key=key, state=state, proof=words[:4000])


def key_here(key: str, copied: dict[tuple[str, int], int]) -> str:
    """A check's key with the anchor of the copied record, or "" when the record was not copied. What the house
    asks for everywhere keeps its key."""
    if key.startswith("house@"):
        return key
    found = _ANCHOR.search(key)
    if found:
        named = ref_of(found[1])
    else:
        named = None
    if found is None or named is None:
        return key
    new = copied.get((named.kind, named.id))
    if new:
        return key[: found.start()] + f"@{named.kind}-{new}" + key[found.end() :]
    return ""
