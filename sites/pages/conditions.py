"""At how many sites a condition of the site holds, without working out their plans: one query a kind of record
that conditions look at, and sites that look alike to them are looked at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from django.utils import timezone

from planner.plan import Plan
from planner.record.choices import SitePurpose
from planner.record.facts import LISTS, RECORDS, Site, SiteFacts
from planner.stages.conditions import OF_SITE
from sites import models

# What conditions of the site look at. A test holds every condition against the whole record.
LOOKED_AT = {
    "directory": ("directory_kind",),
    "service": (
        "disk_provisioning",
        "certificate",
        "certificate_authority",
        "certificate_renewal",
        "outside_access",
    ),
    "host": ("state",),
    "datastore": ("sharing",),
    "server": ("roles",),
    "appliance": (),
    "image": ("activation",),
    "template": ("passes", "profile_place"),
}

Row = tuple
Look = tuple[str, tuple[tuple[str, tuple[Row, ...]], ...]]  # a site's purpose, and its rows by kind


def holding(conditions: Iterable[str]) -> dict[str, int]:
    """How many sites each condition holds at; "" holds at all of them."""
    wanted = set(conditions)
    present = dict(models.Site.objects.filter(removal=None).values_list("pk", "purpose"))
    found = {
        "": len(present),
        "is-live": sum(purpose == SitePurpose.LIVE for purpose in present.values()),
    }
    others = wanted - set(found)
    if not others:
        return found
    alike = Counter(_looks(present))
    plans = [(Plan(_facts(look)), count) for look, count in alike.items()]
    known = (name for name in others if name in OF_SITE)
    return found | {
        name: sum(count for plan, count in plans if OF_SITE[name](plan)) for name in known
    }


def _looks(present: dict[int, str]) -> Iterable[Look]:
    rows: dict[int, dict[str, list[Row]]] = {pk: {} for pk in present}
    for kind, names in LOOKED_AT.items():
        for site, *values in (
            models.RECORD_MODELS[kind].objects.filter(removal=None).values_list("site", *names)
        ):
            if site in rows:
                row = tuple(tuple(value) if isinstance(value, list) else value for value in values)
                rows[site].setdefault(kind, []).append(row)
    for pk, purpose in present.items():
        yield purpose, tuple((kind, tuple(found)) for kind, found in rows[pk].items())


def _facts(look: Look) -> SiteFacts:
    purpose, kinds = look
    found: dict = {}
    for kind, rows in kinds:
        made = tuple(RECORDS[kind](**dict(zip(LOOKED_AT[kind], row, strict=True))) for row in rows)
        found[LISTS.get(kind, kind)] = made if kind in LISTS else made[0]
    return SiteFacts(today=timezone.localdate(), site=Site(purpose=purpose), **found)
