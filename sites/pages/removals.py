"""What was removed at a site and not brought back: how much went with it, and what would be lacking of it now."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet

from planner.record import kinds
from planner.record.chapters import fields_of
from planner.record.facts import KIND_WORDS, ref_of
from sites.models import RECORD_MODELS, Removal, Site, SiteRecord

A_PAGE = 25
NEWEST = 3  # shown below a chapter


@dataclass(frozen=True)
class Line:
    """One removal as listed. ``lacking`` says what cannot come back with it."""

    removal: Removal
    count: int
    lacking: list[str]

    @property
    def more(self) -> int:
        """How many records went with the one that was removed."""
        return max(0, self.count - 1)


def open_ones(site: Site) -> QuerySet[Removal]:
    return Removal.objects.filter(site=site, undone_at=None).select_related("by")


def newest(site: Site) -> dict:
    """The newest removals for a chapter's page, and how many there are."""
    found = list(open_ones(site)[: NEWEST + 1])
    if len(found) > NEWEST:
        count = open_ones(site).count()
    else:
        count = len(found)
    return {"removals": found[:NEWEST], "removals_count": count}


def listed(site: Site, number: str) -> Page:
    """One page of all removals, newest first; its items are :class:`Line`. A number that is none is the first page."""
    page = Paginator(open_ones(site), A_PAGE).get_page(number)
    rows = _rows(page.object_list)
    lacking = _lacking(rows)
    page.object_list = [Line(one, len(rows[one.pk]), lacking[one.pk]) for one in page.object_list]
    return page


def lacking_of(removals: Iterable[Removal]) -> dict[int, list[str]]:
    """By removal: what its records name that is removed too, and not with them."""
    return _lacking(_rows(removals))


def _rows(removals: Iterable[Removal]) -> dict[int, list[SiteRecord]]:
    """The records of each removal: one query a kind."""
    found: dict[int, list[SiteRecord]] = {one.pk: [] for one in removals}
    for model in RECORD_MODELS.values():
        for row in model.objects.filter(removal__in=list(found)) if found else ():
            found[row.removal_id].append(row)
    return found


def _lacking(rows: dict[int, list[SiteRecord]]) -> dict[int, list[str]]:
    named = {row: list(_named(row)) for found in rows.values() for row in found}
    wanted: dict[str, set[int]] = {}
    for kind, pk in (one for several in named.values() for one in several):
        wanted.setdefault(kind, set()).add(pk)
    gone = {}
    for kind, ids in wanted.items():
        removed = RECORD_MODELS[kind].objects.filter(pk__in=ids).exclude(removal=None)
        gone.update({(kind, row.pk): row for row in removed})
    return {
        removal: list(dict.fromkeys(_words(found, named, gone))) for removal, found in rows.items()
    }


def _words(found: list[SiteRecord], named: dict, gone: dict) -> Iterable[str]:
    for row in found:
        for at in named[row]:
            if at in gone and gone[at].removal_id != row.removal_id:
                yield f"{row} names the {KIND_WORDS[at[0]]} {gone[at]}, which is removed too"


def _named(row: SiteRecord) -> Iterable[tuple[str, int]]:
    """The records that a record names, by kind and key."""
    for one in fields_of(row.facts.kind).values():
        value = getattr(row, one.name, None)
        if one.kind is kinds.RECORD and value:
            yield one.to, value
        elif one.kind is kinds.RECORDS:
            yield from ((one.to, id) for id in value or ())
        elif one.kind is kinds.ANY_RECORD and value:
            named = ref_of(value)
            if named is not None and named.kind in RECORD_MODELS:
                yield named.kind, named.id
