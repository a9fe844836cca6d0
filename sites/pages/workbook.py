"""What a chapter page shows, made ready from the plan: rows, marks, notes, the rail."""

from __future__ import annotations

import datetime as dt
import functools
from dataclasses import dataclass, field

from django.urls import reverse
from django.utils.html import format_html

from planner.plan import Plan
from planner.record.chapters import CHAPTERS, Chapter, Field, Section, show
from planner.record.facts import LISTS, Record, SiteFacts
from planner.review import WEIGHTS, Finding
from sites.forms.layout import helper_for
from sites.forms.records import RecordForm
from sites.models import Site
from sites.pages.marks import mark
from sites.pages.plans import once


@dataclass
class Cell:
    """One value: its words, its marks."""

    field: Field
    text: str
    weight: str = ""

    @property
    def marked(self) -> str:
        """Its words and its mark; made here, because a page has hundreds of cells and few of them are marked."""
        if self.weight:
            return format_html("{}{}", self.text, mark(self.weight))
        return self.text

    @property
    def told(self) -> str:
        """The same with its unit, for a value that stands in no column."""
        if self.field.shows_unit:
            unit = self.field.unit
        else:
            unit = ""
        if unit:
            words = f"{self.text} {unit}"
        else:
            words = self.text
        if self.weight:
            return format_html("{}{}", words, mark(self.weight))
        return words


@dataclass
class Row:
    """One record of a table; with a form when it is being edited."""

    anchor: str
    label: str
    cells: list[Cell]
    more: list[Cell]
    pk: int = 0
    form: RecordForm | None = None
    weight: str = ""

    @functools.cached_property
    def said(self) -> list[Cell]:
        """The fields beyond the ledger that are filled."""
        return [cell for cell in self.more if cell.text]


@dataclass
class Part:
    """A section as shown."""

    section: Section
    rows: list[Row]
    adding: RecordForm | None = None
    headings: list[Field] = field(default_factory=list)

    @property
    def open(self) -> bool:
        """Somebody is typing into it."""
        return self.adding is not None or any(row.form for row in self.rows)

    @property
    def template(self) -> str:
        if self.section.single:
            return "workbook/_single.html"
        return "workbook/_table.html"


@dataclass
class RailEntry:
    chapter: Chapter
    url: str
    here: bool
    fullness: int | None
    weight: str
    aside: str = ""


def _weights(plan: Plan) -> dict[tuple[str, int, str], str]:
    """The heaviest open finding of each field, and of each record under the field ""."""
    found: dict[tuple[str, int, str], str] = {}
    for finding in reversed(plan.review.findings):  # heaviest last, so that it stays
        if not finding.accepted:
            for at in (finding.at, *finding.also):
                found[(at.kind, at.id, at.field)] = finding.weight
    return found


def records_of(facts: SiteFacts, section: Section) -> list[Record]:
    """The records that a section shows."""
    if section.single:
        return [getattr(facts, section.kind)]
    return list(getattr(facts, LISTS[section.kind]))


def make_row(section: Section, record: Record, plan: Plan, weights: dict, form=None) -> Row:
    def cell(one: Field) -> Cell:
        weight = weights.get((record.kind, record.id, one.name), "")
        return Cell(one, show(one, record, plan.facts), weight)

    ledger = section.fields if section.single else section.ledger
    if section.single:
        rest = []
    else:
        rest = section.rest
    return Row(
        record.ref.anchor,
        record.label,
        [cell(one) for one in ledger],
        [cell(one) for one in rest],
        pk=record.id,
        form=form,
        weight=weights.get((record.kind, record.id, ""), ""),
    )


def make_parts(
    site: Site, chapter: Chapter, plan: Plan, editing: dict[str, RecordForm] | None = None
) -> list[Part]:
    """A chapter's sections. ``editing`` maps an anchor (or ``new``) behind its section's word to its form."""
    if editing:
        return _parts(site, chapter, plan, editing)
    return once(plan, ("parts", chapter.slug), lambda: _parts(site, chapter, plan, {}))


def _parts(site: Site, chapter: Chapter, plan: Plan, editing: dict[str, RecordForm]) -> list[Part]:
    weights = once(plan, "weights", lambda: _weights(plan))
    parts = []
    for section in chapter.sections:
        rows = []
        for record in records_of(plan.facts, section):
            key = f"{section.slug}:{record.ref.anchor}"
            row = make_row(section, record, plan, weights, editing.get(key))
            if row.form:
                lay_out(row.form, site, chapter, told=bool(row.said))
            rows.append(row)
        adding = editing.get(f"{section.slug}:new")
        if adding:
            lay_out(adding, site, chapter)
        parts.append(Part(section, rows, adding, section.ledger))
    return parts


def lay_out(form: RecordForm, site: Site, chapter: Chapter, told: bool = False) -> None:
    """Lays a record's form out and says where it is sent to; ``told`` when more than its ledger is filled in."""
    section, at = form.section, (site.customer.code, site.code)
    if form.record:
        action = reverse("record-change", args=[*at, section.slug, form.record.pk])
    else:
        action = reverse("record-add", args=[*at, section.slug])
    leave = f"{reverse('chapter', args=[*at, chapter.slug])}#s-{section.slug}"
    form.helper = helper_for(section, action, leave=leave, new=not form.record, told=told)


def fullness(chapter: Chapter, facts: SiteFacts) -> int | None:
    """How much of a chapter is filled, in per cent; ``None`` for a chapter that is computed."""
    counted = [s for s in chapter.sections if s.counts]
    if not counted:
        return None
    known = wanted = 0
    for section in counted:
        records = records_of(facts, section)
        wanted += len(section.counts) * max(1, len(records))
        known += sum(
            getattr(r, name) not in (None, "", ()) for r in records for name in section.counts
        )
    return round(100 * known / wanted)


def rail(site: Site, plan: Plan, here: Chapter) -> list[RailEntry]:
    key = ("rail", site.customer.code, site.code, here.slug)
    return once(plan, key, lambda: _rail(site, plan, here))


def _rail(site: Site, plan: Plan, here: Chapter) -> list[RailEntry]:
    return [
        RailEntry(
            chapter,
            reverse("chapter", args=[site.customer.code, site.code, chapter.slug]),
            chapter == here,
            fullness(chapter, plan.facts),
            plan.review.heaviest(chapter.number),
            aside(chapter, plan),
        )
        for chapter in CHAPTERS
    ]


def frame(request, site: Site, chapter: Chapter, plan: Plan) -> dict:
    """What every page of a site shows around its own part: head and rail."""
    return {
        "site": site,
        "chapter": chapter,
        "plan": plan,
        "access": request.access,
        "rail": rail(site, plan, chapter),
        "counts": counts(plan),
        "next_date": next_date(plan.facts),
    }


def next_date(facts: SiteFacts) -> tuple[str, dt.date] | None:
    """The next day that matters, with its word; ``None`` when no known one is still to come."""
    days = [
        ("on site", facts.site.on_site_date),
        ("go-live", facts.site.go_live_date),
        ("certificate ends", facts.service.certificate_expires),
    ]
    days += [("look again", accepted.look_again) for accepted in facts.acceptances]
    coming = [(word, day) for word, day in days if day is not None and day >= facts.today]
    return min(coming, key=lambda one: one[1], default=None)


def aside(chapter: Chapter, plan: Plan) -> str:
    """A few words beside a computed chapter in the rail."""
    if chapter.slug == "stages":
        return f"{plan.stages.passed} of {len(plan.stages.stages)}"
    return ""


def counts(plan: Plan) -> dict[str, int]:
    """How many open findings of each weight."""
    return {weight: len(plan.review.open(weight)) for weight in WEIGHTS}


def notes(chapter: Chapter, plan: Plan) -> list[Finding]:
    """The findings of a chapter's margin, in the order of the records on the sheet."""
    order = {r.ref.anchor: n for n, r in enumerate(plan.facts.records())}
    found = plan.review.of_chapter(chapter.number)
    return sorted(found, key=lambda f: (order.get(f.at.anchor, 0), WEIGHTS.index(f.weight)))
