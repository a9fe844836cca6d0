"""What a chapter shows beyond its records: made ready for ``templates/workbook/chapters``."""

from __future__ import annotations

from collections.abc import Callable

from django.http import QueryDict
from django.utils.safestring import mark_safe

from planner import work_out
from planner.catalogue.sections import section
from planner.comparing.as_built import as_built, drift
from planner.comparing.summary import capacity_findings, curve_of, mornings, of_things, sentence
from planner.comparing.whatif import compare
from planner.engine.provenance import listed, rests_of
from planner.papers.book import PARTS
from planner.papers.drawings import bars, morning
from planner.papers.drawings.shapes import Drawing
from planner.papers.drawings.site import draw
from planner.papers.drawings.svg import to_svg
from planner.plan import Plan
from planner.record.chapters import Chapter
from sites.actions.papers import letter_of
from sites.forms.papers import BookForm, FreezeForm
from sites.models import Printed, Revision, Site
from sites.pages import addresses, configs, ports
from sites.pages.plans import once


def _papers(site: Site, plan: Plan, asked: QueryDict) -> dict:
    revisions = once(plan, "revisions", lambda: _revisions(site))
    if revisions:
        number = revisions[0].number + 1
    else:
        number = 1
    return {
        "revisions": revisions,
        "next_letter": letter_of(number),
        "freeze_form": FreezeForm(),
        "book_parts": PARTS,
        "book_form": BookForm(
            parts=[(one.slug, one.title) for one in PARTS],
            letters=[one.letter for one in revisions],
        ),
        "after": "papers/_changed.html",
        "as_built": once(plan, "as built", lambda: _as_built(plan)),
        "printed": Printed.objects.filter(site=site).select_related("by")[:20],
    }


def _revisions(site: Site) -> list[Revision]:
    return list(Revision.objects.filter(site=site).select_related("by").defer("content"))


def _as_built(plan: Plan) -> dict:
    """What was built otherwise, and what the review says of it; nothing where all is as planned."""
    if not plan.facts.built:
        return {}
    found = compare(plan, work_out(as_built(plan.facts)))
    return {
        "drifts": drift(plan.facts),
        "come": of_things(found.come),
        "gone": of_things(found.gone),
    }


def _stages(site: Site, plan: Plan, asked: QueryDict) -> dict:
    return {"stages": plan.stages}


def _networks(site: Site, plan: Plan, asked: QueryDict) -> dict:
    return {"drawing": once(plan, "drawing", lambda: _svg(draw(plan), "site"))}


def _svg(drawing: Drawing, id_prefix: str) -> str:
    return mark_safe(to_svg(drawing, id_prefix))  # noqa: S308  (to_svg escapes what people typed)


def _addresses(site: Site, plan: Plan, asked: QueryDict) -> dict:
    if asked:
        looked_at = _looked_at(plan, asked)
    else:
        looked_at = once(plan, "9", lambda: _looked_at(plan, asked))
    offered = once(plan, "configs", lambda: configs.offered(site, plan))
    return {**looked_at, "after": "workbook/chapters/_configs.html", **offered}


def _looked_at(plan: Plan, asked: QueryDict) -> dict:
    return {**addresses.part_of(plan, asked), "ports": ports.sheet(plan, asked)}


CAPACITY = (
    "carries",
    "more",
    "seats",
    "morning",
    "disks",
    "leases",
    "lines",
    "recovery",
    "licences",
    "facility",
)  # the sections of chapter 8, by their keys in the catalogue


def _capacity(site: Site, plan: Plan, asked: QueryDict) -> dict:
    shown = once(plan, "capacity", lambda: _worked_out(plan))
    return {**shown, "extra": "workbook/chapters/_worked_out.html"}


def _worked_out(plan: Plan) -> dict:
    return {
        "p": plan,
        "contents": [section(key) for key in CAPACITY],
        "elsewhere": capacity_findings(plan),
        "says": sentence(plan),
        "bars": _svg(bars.draw(plan), "bars"),
        "mornings": mornings(plan),
        "morning": _svg(morning.draw(curve_of(plan)), "morning"),
        "rests": {room: rests_of(plan, room) for room in listed()},
    }


EXTRAS: dict[str, Callable[[Site, Plan, QueryDict], dict]] = {
    "papers": _papers,
    "stages": _stages,
    "networks": _networks,
    "addresses": _addresses,
    "capacity": _capacity,
}


def extra_of(site: Site, chapter: Chapter, plan: Plan, asked: QueryDict) -> dict:
    """The context of a chapter's own template, and the template's name; ``asked`` is what the address asks for."""
    make = EXTRAS.get(chapter.slug)
    if make:
        return {"extra": f"workbook/chapters/{chapter.slug}.html", **make(site, plan, asked)}
    return {}
