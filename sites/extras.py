"""What a chapter shows beyond its records: made ready for ``templates/workbook/chapters``."""

from __future__ import annotations

from collections.abc import Callable

from planner.chapters import Chapter
from planner.plan import Plan
from sites.actions.papers import letter_of
from sites.forms.papers import FreezeForm
from sites.models import Revision, Site


def _papers(site: Site, plan: Plan) -> dict:
    revisions = list(Revision.objects.filter(site=site).select_related("by").defer("content"))
    number = revisions[0].number + 1 if revisions else 1
    return {"revisions": revisions, "next_letter": letter_of(number), "freeze_form": FreezeForm()}


def _stages(site: Site, plan: Plan) -> dict:
    return {"stages": plan.stages}


EXTRAS: dict[str, Callable[[Site, Plan], dict]] = {"papers": _papers, "stages": _stages}


def extra_of(site: Site, chapter: Chapter, plan: Plan) -> dict:
    """The context of a chapter's own template, and the template's name."""
    make = EXTRAS.get(chapter.slug)
    return {"extra": f"workbook/chapters/{chapter.slug}.html", **make(site, plan)} if make else {}
