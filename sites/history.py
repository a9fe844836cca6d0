"""Who changed what and when, with the old and the new value."""

from __future__ import annotations

import dataclasses
import datetime as dt
import itertools

from planner import chapters
from planner.facts import KIND_WORDS, SiteFacts
from sites.models import RECORD_MODELS, Site
from sites.reading import read_site

SHOWN = 200


@dataclasses.dataclass(frozen=True)
class Line:
    """One change of one record; ``fields`` are (label, old, new)."""

    at: dt.datetime
    by: str
    kind: str
    anchor: str
    label: str
    verb: str
    fields: tuple[tuple[str, str, str], ...]


def is_anchor(anchor: str) -> bool:
    kind, _, pk = anchor.rpartition("-")
    return kind in RECORD_MODELS and pk.isdigit()


def lines(site: Site, anchor: str = "") -> list[Line]:
    """The newest changes of a site, or of one of its records: one query a kind."""
    facts = read_site(site)
    wanted, _, pk = anchor.rpartition("-")
    found: list[Line] = []
    for kind, model in RECORD_MODELS.items():
        if anchor and kind != wanted:
            continue
        scope = {"id": site.pk} if kind == "site" else {"site_id": site.pk}
        rows = model.history.filter(**scope)
        if anchor:
            rows = rows.filter(id=int(pk))
        newest = list(rows.select_related("history_user").order_by("id", "-history_id")[: SHOWN * 5])
        found += _of_kind(kind, newest, facts)
    return sorted(found, key=lambda line: line.at, reverse=True)[:SHOWN]


def _of_kind(kind: str, rows: list, facts: SiteFacts) -> list[Line]:
    """``rows`` come newest first within a record, so the next row is what it was before."""
    found = []
    for row, before in itertools.zip_longest(rows, rows[1:]):
        if before is not None and before.id != row.id:
            before = None
        fields = _differences(kind, before, row, facts) if before else ()
        verb = "added" if row.history_type == "+" else _verb(before, row)
        by = str(row.changed_by or row.history_user or "nobody known")
        found.append(
            Line(
                row.history_date, by, KIND_WORDS[kind], f"{kind}-{row.id}", getattr(row, "name", "") or "", verb, fields
            )
        )
    return [line for line in found if line.fields or line.verb != "changed"]


def _verb(before, row) -> str:
    if before is not None and before.removal_id != row.removal_id:
        return "removed" if row.removal_id else "brought back"
    return "changed"


def _differences(kind: str, before, row, facts: SiteFacts) -> tuple[tuple[str, str, str], ...]:
    found = []
    for name, one in chapters.fields_of(kind).items():
        old, new = getattr(before, name), getattr(row, name)
        if old != new:
            texts = (
                chapters.with_unit(one, chapters.show_value(one, value, facts)) or "nothing" for value in (old, new)
            )
            found.append((one.label, *texts))
    return tuple(found)
