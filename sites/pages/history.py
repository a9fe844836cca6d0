"""Who changed what and when, with the old and the new value."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterable

from django.db.models import OuterRef, Subquery

from planner.catalogue.assumptions import listed
from planner.record import chapters, units
from planner.record.chapters import Field
from planner.record.choices import Choice
from planner.record.facts import KIND_WORDS, SiteFacts, ref_of
from sites.models import RECORD_MODELS, Assumed, HouseEstimate, HouseWork, Site
from sites.models.work import WorkKind
from sites.pages.plans import kept_plan

SHOWN = 200


class Verb(Choice):
    """What was done."""

    ADDED = "added"
    CHANGED = "changed"
    REMOVED = "removed"
    BROUGHT_BACK = "brought back"
    SET = "set"
    TAKEN_BACK = "taken back"
    NO_LONGER_ASKED = "no longer asked"
    ASKED_AGAIN = "asked again"


@dataclasses.dataclass(frozen=True)
class Line:
    """One change of one record; ``fields`` are (label, old, new)."""

    at: dt.datetime
    by: str
    kind: str
    anchor: str
    label: str
    verb: Verb
    fields: tuple[tuple[str, str, str], ...]


def is_anchor(anchor: str) -> bool:
    ref = ref_of(anchor)
    return ref is not None and ref.kind in RECORD_MODELS


def lines(site: Site, anchor: str = "") -> list[Line]:
    """The newest changes of a site, or of one of its records: two queries a kind."""
    facts = kept_plan(site).facts
    wanted = ref_of(anchor)
    found: list[Line] = [] if anchor else _of_assumptions(site)
    for kind, model in RECORD_MODELS.items():
        if wanted and kind != wanted.kind:
            continue
        if kind == "site":
            scope = {"id": site.pk}
        else:
            scope = {"site_id": site.pk}
        rows = model.history.filter(**scope)
        if wanted:
            rows = rows.filter(id=wanted.id)
        found += _of_kind(kind, *_newest(model, rows), facts)
    return sorted(found, key=lambda line: line.at, reverse=True)[:SHOWN]


def _newest(model, rows, also: tuple[str, ...] = ("changed_by",)) -> tuple[list, dict]:
    """The newest rows of a history, and the rows that stood just before them, by their id."""
    earlier = model.history.filter(id=OuterRef("id"), history_id__lt=OuterRef("history_id"))
    last = earlier.order_by("-history_id").values("history_id")[:1]
    newest = rows.annotate(row_before=Subquery(last)).order_by("-history_id")[:SHOWN]
    found = list(newest.select_related("history_user", *also))
    return found, model.history.in_bulk({row.row_before for row in found if row.row_before})


def _of_kind(kind: str, rows: list, befores: dict, facts: SiteFacts) -> list[Line]:
    found = []
    for row in rows:
        before = befores.get(row.row_before)
        if before:
            fields = _differences(kind, before, row, facts)
        else:
            fields = ()
        if row.history_type == "+":
            verb = Verb.ADDED
        else:
            verb = _verb(before, row)
        by = str(row.changed_by or row.history_user or "nobody known")
        label = getattr(row, "name", "") or ""
        found.append(
            Line(row.history_date, by, KIND_WORDS[kind], f"{kind}-{row.id}", label, verb, fields)
        )
    return [line for line in found if line.fields or line.verb != Verb.CHANGED]


def _of_assumptions(site: Site) -> list[Line]:
    """Planning numbers set at the site, and taken back."""
    found, theirs = [], "the house's or the catalogue's"
    rows, befores = _newest(Assumed, Assumed.history.filter(site_id=site.pk), also=())
    for row in rows:
        one, before = listed().get(row.key), befores.get(row.row_before)
        if before:
            old = units.show(before.value, 3)
        else:
            old = theirs
        new = units.show(row.value, 3)
        verb, texts = {
            "+": (Verb.SET, (theirs, new)),
            "~": (Verb.CHANGED, (old, new)),
            "-": (Verb.TAKEN_BACK, (new, theirs)),
        }[row.history_type]
        by = str(row.history_user or "nobody known")
        if one:
            label = one.name
        else:
            label = row.key
        found.append(
            Line(row.history_date, by, "assumption", "", label, verb, (("Value", *texts),))
        )
    return found


def of_house_work(work: HouseWork, fields: Iterable[Field], facts: SiteFacts) -> list[Line]:
    """The newest changes of a step or check of the house: three queries."""
    rows, befores = _newest(HouseWork, HouseWork.history.filter(id=work.pk))
    names = dict(HouseWork.objects.filter(what=WorkKind.STEP).values_list("pk", "name"))
    found = []
    for row in rows:
        before = befores.get(row.row_before)
        if before:
            verb = Verb.CHANGED
        else:
            verb = Verb.ADDED
        if before and (before.ended_at is None) != (row.ended_at is None):
            if row.ended_at:
                verb = Verb.NO_LONGER_ASKED
            else:
                verb = Verb.ASKED_AGAIN
        if before:
            said = [(one, getattr(before, one.name), getattr(row, one.name)) for one in fields]
        else:
            said = []
        shown = tuple(
            (one.label, _of_house(one, old, facts, names), _of_house(one, new, facts, names))
            for one, old, new in said
            if old != new
        )
        by = str(row.changed_by or row.history_user or "nobody known")
        found.append(Line(row.history_date, by, work.what, "", row.name, verb, shown))
    return found


def _of_house(one: Field, value, facts: SiteFacts, names: dict[int, str]) -> str:
    if one.name == "ownstep_id":
        return names.get(value, "") or "nothing"
    if one.name == "when":
        return one.choices.get(value, value)
    return chapters.with_unit(one, chapters.show_value(one, value, facts)) or "nothing"


def of_house_estimate(step: str) -> list[Line]:
    """The newest changes of the house's times of a step: two queries."""
    rows, befores = _newest(HouseEstimate, HouseEstimate.history.filter(step=step), also=())
    theirs, found = "the catalogue's", []
    for row in rows:
        before = befores.get(row.row_before)
        old, new = (_three(before) if before else theirs), _three(row)
        verb, texts = {
            "+": (Verb.SET, (theirs, new)),
            "~": (Verb.CHANGED, (old, new)),
            "-": (Verb.TAKEN_BACK, (new, theirs)),
        }[row.history_type]
        notes = (
            (("Note", *(one or "nothing" for one in (before.note, row.note))),)
            if (row.history_type == "~" and before and before.note != row.note)
            else ()
        )
        fields = tuple(line for line in (("Times", *texts), *notes) if line[1] != line[2])
        by = str(row.history_user or "nobody known")
        found.append(Line(row.history_date, by, "times", "", step, verb, fields))
    return found


def _three(row) -> str:
    times = (row.least_minutes, row.likely_minutes, row.longest_minutes)
    return ", ".join(units.show(time, 2) for time in times) + " min"


def _verb(before, row) -> Verb:
    if before is not None and before.removal_id != row.removal_id:
        if row.removal_id:
            return Verb.REMOVED
        return Verb.BROUGHT_BACK
    return Verb.CHANGED


def _differences(kind: str, before, row, facts: SiteFacts) -> tuple[tuple[str, str, str], ...]:
    found: list[tuple[str, str, str]] = []
    for name, one in chapters.fields_of(kind).items():
        old, new = getattr(before, name), getattr(row, name)
        if old != new:
            found.append((one.label, _shown(one, old, facts), _shown(one, new, facts)))
    return tuple(found)


def _shown(one: Field, value: object, facts: SiteFacts) -> str:
    return chapters.with_unit(one, chapters.show_value(one, value, facts)) or "nothing"
