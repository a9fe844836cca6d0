"""A chapter's page."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from planner.plan import Plan
from planner.record.chapters import Chapter
from sites.models import Site
from sites.pages import removals, workbook
from sites.pages.extras import extra_of
from sites.pages.plans import once
from sites.pages.standing import plan_of


def show_page(
    request: HttpRequest,
    site: Site,
    chapter: Chapter,
    plan: Plan | None = None,
    *,
    status: int = 200,
    **more,
) -> HttpResponse:
    """Renders a chapter: the whole page, or the workbook alone for htmx."""
    plan = plan or plan_of(site)
    editing = more.pop("editing", None)
    context = {
        **workbook.frame(request, site, chapter, plan),
        "parts": workbook.make_parts(site, chapter, plan, editing),
        "notes": workbook.notes(chapter, plan),
        "form_open": bool(editing),
        **(_removed(site, plan) if request.access.may_edit else {}),
        **extra_of(site, chapter, plan, request.GET),
        **more,
    }
    if request.htmx:
        template = "workbook/_workbook.html"
    else:
        template = "workbook/page.html"
    return render(request, template, context, status=status)


def _removed(site: Site, plan: Plan) -> dict:
    return once(plan, "removed", lambda: removals.newest(site))
