"""The one door from database rows to planner.record.facts: a fixed number of queries a site."""

from __future__ import annotations

import dataclasses
import datetime as dt
import functools
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from django.db import connection
from django.db.models import Count, DateField, FloatField, JSONField, Model, Q, Value
from django.db.models.functions import Cast
from django.utils import timezone

from planner.record import facts as f
from planner.record.choices import NumberScope
from planner.record.facts import LISTS, SINGLES
from planner.record.registry import REFERENCES
from sites import models
from sites.models.work import WorkKind

R = TypeVar("R", bound=f.Record)


def today_at(site: models.Site) -> dt.date:
    """The day it is at the site."""
    try:
        if site.time_zone:
            return timezone.now().astimezone(ZoneInfo(site.time_zone)).date()
        return timezone.localdate()
    except (KeyError, ValueError, OSError):
        return timezone.localdate()


def as_fact(record: Model, wanted: type[f.Record] | None = None) -> f.Record:
    """A saved record as its facts, references as they stand."""
    return as_facts_of(wanted or record.facts, record)


def as_facts_of(wanted: type[R], row: Model) -> R:
    """A row as facts of a class, references as they stand."""
    names = [one.name for one in dataclasses.fields(wanted)]
    return _made(wanted, names, [getattr(row, name) for name in names])


def _made(wanted: type[R], names: list[str], values: Iterable[Any]) -> R:
    """A record of facts from a row's values; lists are kept as tuples."""
    known: dict[str, Any] = dict(zip(names, values, strict=True))
    for name, value in known.items():
        if isinstance(value, list):
            known[name] = tuple(value)
    return wanted(**known)


def _rows(kind: str, site: models.Site) -> list[f.Record]:
    """A kind's records as facts, straight from their columns: no model is made only to be read once."""
    model = models.RECORD_MODELS[kind]
    names = [one.name for one in dataclasses.fields(model.facts)]
    found = model.objects.filter(site=site, removal=None).order_by("pk").values_list(*names)
    return [_made(model.facts, names, values) for values in found]


def _without_removed(record: f.Record, present: dict[str, set[int]]) -> f.Record:
    """References to records that were removed are read as unknown."""
    changed: dict[str, Any] = {}
    for name, kind in REFERENCES[record.kind]:
        value = getattr(record, name)
        if isinstance(value, tuple):
            kept = tuple(id for id in value if id in present[kind])
            if kept != value:
                changed[name] = kept
        elif value is not None and value not in present[kind]:
            changed[name] = None
    if changed:
        return dataclasses.replace(record, **changed)
    return record


# -- what moves a plan -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class State:
    """All that can move a site's plan while a process runs: two plans of one state are the same.

    ``counter`` rises with what is written at the site, ``house`` with what the house changes for all sites and with
    what people are called, each of ``neighbours`` with what is written at a site that is joined.
    """

    customer: str
    customer_code: str
    today: dt.date
    house: int
    counter: int
    neighbours: tuple[tuple[int, int], ...]


def state_of(site: models.Site) -> State:
    """The state of a site at this moment: one query."""
    near = _joined_to(site)
    if near:
        sites = models.Site.objects.filter(Q(pk=site.pk) | Q(**near))
    else:
        sites = _alone(site)
    counters = sites.order_by().values_list("pk", "counter")
    house = models.HouseCounter.objects.values_list(Value(0), "count")
    found = dict(counters.union(house, all=True))
    return State(
        customer=site.customer.name,
        customer_code=site.customer.code,
        today=today_at(site),
        house=found.pop(0, 0),
        counter=found.pop(site.pk, 0),
        neighbours=tuple(sorted(found.items())),
    )


def _alone(site: models.Site):
    return models.Site.objects.filter(pk=site.pk)


# -- rows ------------------------------------------------------------------------------------------


OF_SITE = tuple(kind for kind in models.RECORD_MODELS if kind != "site")


@dataclass(frozen=True, slots=True)
class Rows:
    """The records of a site as their rows say; ``edits`` is what the edit counters of each kind come to together."""

    by_kind: dict[str, list[f.Record]]
    edits: dict[str, int]


def rows_of(site: models.Site, before: Rows | None = None) -> Rows:
    """A site's records: one query, and one more for each kind in which something was written since ``before``.

    Adding, changing, removing and bringing back each raise an edit counter, and a row is never deleted: so the sum
    over a kind only ever rises, and where it has not, no row has changed.
    """
    edits = _edits(site)
    by_kind = {}
    for kind in OF_SITE:
        still = before is not None and before.edits.get(kind) == edits.get(kind)
        by_kind[kind] = before.by_kind[kind] if before and still else _rows(kind, site)
    return Rows(by_kind, edits)


def _edits(site: models.Site) -> dict[str, int]:
    """What the edit counters of each kind come to together, removed records with them: one query."""
    with connection.cursor() as cursor:
        cursor.execute(_sums(), [site.pk] * len(OF_SITE))
        return dict(cursor.fetchall())


@functools.cache
def _sums() -> str:
    """Written out, because making it of query sets takes longer than its answer."""
    sums = []
    for kind in OF_SITE:
        table = connection.ops.quote_name(models.RECORD_MODELS[kind]._meta.db_table)
        sums.append(f"SELECT '{kind}', SUM(edits) FROM {table} WHERE site_id = %s")  # noqa: S608 - no word was typed
    return " UNION ALL ".join(sums)


# -- facts -----------------------------------------------------------------------------------------


def read_site(site: models.Site, rows: Rows | None = None) -> f.SiteFacts:
    """Everything the site's plan says: 24 queries, however many rows there are; one more when a link joins it.

    With ``rows`` of this moment it takes 4, and one more for the link."""
    if rows:
        by_kind = rows.by_kind
    else:
        by_kind = {kind: _rows(kind, site) for kind in OF_SITE}
    single = {kind: by_kind[kind] for kind in SINGLES if kind != "site"}
    listed = {kind: by_kind[kind] for kind in LISTS}
    present = {kind: {row.id for row in found} for kind, found in listed.items()}
    clean = {
        kind: tuple(_without_removed(row, present) for row in found)
        for kind, found in listed.items()
    }
    of_kind: dict[str, Any] = {LISTS[kind]: found for kind, found in clean.items()}
    for kind, found in single.items():
        if found:
            of_kind[kind] = _without_removed(found[0], present)
    neighbours = tuple(_neighbours(site))
    assumed, estimates = _set(site)
    house_steps, house_checks = _of_house()
    signatures, acceptances = _names_put(site)
    return f.SiteFacts(
        customer=site.customer.name,
        customer_code=site.customer.code,
        today=today_at(site),
        site=dataclasses.replace(
            as_facts_of(f.Site, site), joined=tuple(near.id for near in neighbours)
        ),
        neighbours=neighbours,
        house_steps=tuple(house_steps),
        house_checks=tuple(house_checks),
        estimates=tuple(estimates),
        assumed=tuple(assumed),
        answers=tuple(_answers(site)),
        signatures=tuple(signatures),
        acceptances=tuple(acceptances),
        **of_kind,
    )


def _neighbours(site: models.Site) -> Iterable[f.Neighbour]:
    """The sites a link joins to this one, with their networks: one query, none when there is no link."""
    there = _joined_to(site)
    if not there:
        return
    sites = models.Site.objects.filter(**there).exclude(pk=site.pk).order_by()
    networks = models.Network.objects.filter(
        removal=None, **{f"site__{name}": value for name, value in there.items()}
    )
    rows = sites.values_list("pk", "name", "code", Value(0), Value(""), Value("")).union(
        networks.order_by().values_list("site", "name", "purpose", "pk", "cidr", Value("network")),
        all=True,
    )
    found: dict[int, str] = {}
    theirs: dict[int, list[f.Network]] = {}
    for pk, name, word, id, cidr, what in rows:
        if what:
            theirs.setdefault(pk, []).append(f.Network(id=id, name=name, purpose=word, cidr=cidr))
        else:
            found[pk] = name or word  # as a site is called
    for pk in site.joined:
        if pk in found:
            mine = sorted(theirs.get(pk, ()), key=lambda network: network.id)
            yield f.Neighbour(id=pk, name=found[pk], networks=tuple(mine))


def _joined_to(site: models.Site) -> dict:
    """What the sites have in common that a link joins to this one; nothing when there is no link."""
    if not site.joined:
        return {}
    return {"pk__in": site.joined, "customer": site.customer_id, "removal": None}


def _set(site: models.Site) -> tuple[list[f.Assumed], list[f.Estimate]]:
    """Planning numbers and estimates of steps that the house and the site set: one query."""
    columns = ("key", "value", "origin", "note", "set_on")
    nothing = [
        Cast(Value(None), FloatField())
    ] * 2  # two bare NULLs one above the other are texts to PostgreSQL
    of_house = models.HouseAssumption.objects.order_by().values_list(
        Value("house"), "pk", *columns, *nothing
    )
    of_site = (
        models.Assumed.objects.filter(site=site)
        .order_by()
        .values_list(Value("site"), "pk", *columns, *nothing)
    )
    of_steps = models.HouseEstimate.objects.order_by().values_list(
        Value("step"),
        "pk",
        "step",
        "least_minutes",
        Value(""),
        "note",
        "set_on",
        "likely_minutes",
        "longest_minutes",
    )
    assumed, estimates = [], []
    rows = of_house.union(of_site, of_steps, all=True)
    for scope, _, key, value, origin, note, on, likely, longest in sorted(rows, key=_in_order):
        if scope == "step":
            three = {"least_minutes": value, "likely_minutes": likely, "longest_minutes": longest}
            estimates.append(f.Estimate(step=key, note=note, **three))
        elif value is not None:
            assumed.append(
                f.Assumed(key=key, value=value, origin=origin, scope=scope, note=note, set_on=on)
            )
    return assumed, estimates


def _in_order(row: tuple) -> tuple:
    """The house's by their keys, the site's as they were made."""
    scope, pk, key = row[:3]
    if scope == NumberScope.SITE:
        return (scope, 0, pk)
    return (scope, key, pk)


def _of_house() -> tuple[list[f.HouseStep], list[f.HouseCheck]]:
    """What the house asks for at every site: one query."""
    found: dict[str, list] = {kind: [] for kind in WorkKind}
    for row in models.HouseWork.objects.filter(ended_at=None):
        found[row.what].append(as_fact(row, row.KINDS[row.what]))
    return found[WorkKind.STEP], found[WorkKind.CHECK]


def read_house() -> f.SiteFacts:
    """What the house asks for, as facts of no site: one query."""
    steps, checks = _of_house()
    return f.SiteFacts(
        today=timezone.localdate(),
        site=f.Site(),
        house_steps=tuple(steps),
        house_checks=tuple(checks),
    )


def _answers(site: models.Site) -> Iterable[f.Answer]:
    rows = models.Answer.objects.filter(site=site, newest=True).annotate(files=Count("proofs"))
    for row in rows.select_related("by").order_by("pk"):
        yield f.Answer(
            check=row.check_key,
            state=row.state,
            by=str(row.by or ""),
            at=row.at,
            proof=row.backing(row.files),
            reopened=row.reopened,
            value=row.value,
        )


def _names_put(site: models.Site) -> tuple[list[f.Signature], list[f.Acceptance]]:
    """Gates that were signed, by stage, and findings that were accepted, in their order: one query."""
    nothing = Value([], JSONField())
    of_site = {"site": site, "withdrawn_at": None}
    signed = (
        models.Signature.objects.filter(**of_site)
        .order_by()
        .values_list(
            Value(0),
            "stage",
            "by__name",
            "by__email",
            "at",
            "on_trust",
            "excused",
            "checks",
            "fingerprint",
            Value(""),
            Value(None, DateField()),
        )
    )
    accepted = (
        models.Acceptance.objects.filter(**of_site)
        .order_by()
        .values_list(
            Value(1),
            "pk",
            "by__name",
            "by__email",
            "at",
            nothing,
            nothing,
            nothing,
            "finding",
            "reason",
            "look_again",
        )
    )
    rows = sorted(signed.union(accepted, all=True), key=lambda row: row[:2])
    people = [row[2] or row[3] or "" for row in rows]
    return [
        f.Signature(
            stage=row[1],
            by=by,
            at=row[4],
            on_trust=tuple(row[5]),
            excused=tuple(row[6]),
            checks=tuple(row[7]),
            fingerprint=row[8],
        )
        for row, by in zip(rows, people, strict=True)
        if not row[0]
    ], [
        f.Acceptance(finding=row[8], reason=row[9], look_again=row[10], by=by, at=row[4])
        for row, by in zip(rows, people, strict=True)
        if row[0]
    ]
