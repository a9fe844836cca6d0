"""What a chapter shows beyond its records: made ready for ``templates/workbook/chapters``."""

from __future__ import annotations

from collections.abc import Callable

from django.utils.safestring import mark_safe

from planner.chapters import Chapter
from planner.papers.drawings.site import draw
from planner.papers.drawings.svg import to_svg
from planner.plan import Plan
from sites.actions.papers import letter_of
from sites.forms.papers import FreezeForm
from sites.models import Printed, Revision, Site

MOST_SHOWN = 500  # claims on the page; the sheet has them all


def _papers(site: Site, plan: Plan) -> dict:
    revisions = list(Revision.objects.filter(site=site).select_related("by").defer("content"))
    number = revisions[0].number + 1 if revisions else 1
    return {"revisions": revisions, "next_letter": letter_of(number), "freeze_form": FreezeForm(),
            "printed": Printed.objects.filter(site=site).select_related("by")[:20]}  # fmt: skip


def _stages(site: Site, plan: Plan) -> dict:
    return {"stages": plan.stages}


def _networks(site: Site, plan: Plan) -> dict:
    return {"drawing": mark_safe(to_svg(draw(plan), "site"))}  # noqa: S308  (to_svg escapes what people typed)


def _addresses(site: Site, plan: Plan) -> dict:
    return {"claims": plan.addressing.claims[:MOST_SHOWN], "claims_more": max(0, len(plan.addressing.claims) - MOST_SHOWN),  # noqa: E501
            "flows": plan.flows.flows, "spans": plan.addressing.spans}  # fmt: skip


def _capacity(site: Site, plan: Plan) -> dict:
    return {"placement": plan.placement, "storage": plan.storage, "leases": plan.leases, "facts": plan.facts,
            "numbers": plan.numbers.all.values()}  # fmt: skip


EXTRAS: dict[str, Callable[[Site, Plan], dict]] = {
    "papers": _papers,
    "stages": _stages,
    "networks": _networks,
    "addresses": _addresses,
    "capacity": _capacity,
}


def extra_of(site: Site, chapter: Chapter, plan: Plan) -> dict:
    """The context of a chapter's own template, and the template's name."""
    make = EXTRAS.get(chapter.slug)
    return {"extra": f"workbook/chapters/{chapter.slug}.html", **make(site, plan)} if make else {}
