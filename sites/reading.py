"""The one door from database rows to planner.facts: a fixed number of queries a site."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterable
from zoneinfo import ZoneInfo

from django.db.models import Count, Model, Value
from django.utils import timezone

from planner import facts as f
from sites import models

# Lists of SiteFacts by record kind, in the order of the chapters.
LISTS = {
    "contact": "contacts", "network": "networks", "device": "devices", "host": "hosts", "datastore": "datastores",
    "server": "servers", "appliance": "appliances", "protocol": "protocols", "credential": "credentials",
    "image": "images", "application": "applications", "template": "templates", "seatgroup": "seat_groups",
    "flow": "flows", "owncheck": "own_checks", "built": "built",
}  # fmt: skip


def today_at(site: models.Site) -> dt.date:
    """The day it is at the site."""
    try:
        return timezone.now().astimezone(ZoneInfo(site.time_zone)).date() if site.time_zone else timezone.localdate()
    except (KeyError, ValueError, OSError):
        return timezone.localdate()


def as_fact(record: Model) -> f.Record:
    """A saved record as its facts, references as they stand."""
    wanted = record.facts  # type: ignore[attr-defined]
    values = {one.name: getattr(record, one.name) for one in dataclasses.fields(wanted)}
    return wanted(**{name: tuple(value) if isinstance(value, list) else value for name, value in values.items()})


def _rows(kind: str, site: models.Site) -> list[f.Record]:
    model = models.RECORD_MODELS[kind]
    return [as_fact(row) for row in model.objects.filter(site=site, removal=None).order_by("pk")]


def _without_removed(record: f.Record, present: dict[str, set[int]]) -> f.Record:
    """References to records that were removed are read as unknown."""
    changed = {}
    for name, kind in REFERENCES.get(type(record), ()):
        value = getattr(record, name)
        if isinstance(value, tuple):
            kept = tuple(id for id in value if id in present[kind])
            if kept != value:
                changed[name] = kept
        elif value is not None and value not in present[kind]:
            changed[name] = None
    return dataclasses.replace(record, **changed) if changed else record


REFERENCES: dict[type[f.Record], tuple[tuple[str, str], ...]] = {
    f.Network: (("reaches", "network"),),
    f.Device: (("network_id", "network"),),
    f.Host: (("network_id", "network"),),
    f.Datastore: (("host_id", "host"),),
    f.Server: (("network_id", "network"),),
    f.Service: (("network_id", "network"), ("outside_device_id", "device")),
    f.Appliance: (("host_id", "host"), ("datastore_id", "datastore"), ("network_id", "network")),
    f.Application: (("image_id", "image"),),
    f.Template: (("image_id", "image"), ("network_id", "network"), ("protocol_id", "protocol")),
    f.SeatGroup: (("template_id", "template"), ("network_id", "network")),
    f.OwnFlow: (("from_network_id", "network"), ("to_network_id", "network")),
}


def read_site(site: models.Site) -> f.SiteFacts:
    """Everything the site's plan says: 23 queries, however many rows there are; one more when a link joins it."""
    rows = {kind: _rows(kind, site) for kind in LISTS}
    single = {kind: _rows(kind, site) for kind in ("directory", "service")}
    present = {kind: {row.id for row in found} for kind, found in rows.items()}
    clean = {kind: tuple(_without_removed(row, present) for row in found) for kind, found in rows.items()}
    one = {kind: _without_removed(found[0], present) for kind, found in single.items() if found}
    neighbours = tuple(_neighbours(site))
    return f.SiteFacts(
        customer=site.customer.name,
        customer_code=site.customer.code,
        today=today_at(site),
        site=dataclasses.replace(as_fact(site), joined=tuple(near.id for near in neighbours)),
        neighbours=neighbours,
        assumed=tuple(_assumed(site)),
        answers=tuple(_answers(site)),
        signatures=tuple(_signatures(site)),
        acceptances=tuple(_acceptances(site)),
        **one,
        **{LISTS[kind]: found for kind, found in clean.items()},
    )


def _neighbours(site: models.Site) -> Iterable[f.Neighbour]:
    """The sites a link joins to this one, with their networks: one query, none when there is no link."""
    if not site.joined:
        return
    there = {"pk__in": site.joined, "customer": site.customer_id, "removal": None}
    sites = models.Site.objects.filter(**there).exclude(pk=site.pk).order_by()
    networks = models.Network.objects.filter(removal=None, **{f"site__{name}": value for name, value in there.items()})
    rows = sites.values_list("pk", "name", "code", Value(0), Value(""), Value("")).union(
        networks.order_by().values_list("site", "name", "purpose", "pk", "cidr", Value("network")), all=True
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


def _assumed(site: models.Site) -> Iterable[f.Assumed]:
    for scope, found in (
        ("house", models.HouseAssumption.objects.all()),
        ("site", models.Assumed.objects.filter(site=site)),
    ):
        for row in found:
            if row.value is not None:
                yield f.Assumed(
                    key=row.key, value=row.value, origin=row.origin, scope=scope, note=row.note, set_on=row.set_on
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


def _signatures(site: models.Site) -> Iterable[f.Signature]:
    for row in models.Signature.objects.filter(site=site, withdrawn_at=None).select_related("by").order_by("stage"):
        yield f.Signature(
            stage=row.stage, by=str(row.by or ""), at=row.at, on_trust=tuple(row.on_trust), excused=tuple(row.excused),
            checks=tuple(row.checks), fingerprint=row.fingerprint,
        )  # fmt: skip


def _acceptances(site: models.Site) -> Iterable[f.Acceptance]:
    for row in models.Acceptance.objects.filter(site=site, withdrawn_at=None).select_related("by").order_by("pk"):
        yield f.Acceptance(
            finding=row.finding, reason=row.reason, look_again=row.look_again, by=str(row.by or ""), at=row.at
        )
