"""Everything that was removed at a site, and the way back."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from planner.record.chapters import BY_SLUG
from sites.access import door as access
from sites.models import Site
from sites.pages.removals import listed
from sites.pages.standing import plan_of
from sites.pages.workbook import frame


@access.for_site(access.READ)
@require_safe
def removals(request: HttpRequest, site: Site) -> HttpResponse:
    """Every removal that was not undone, newest first. Whoever may change the record can bring each back."""
    page = listed(site, request.GET.get("page", ""))
    context = {**frame(request, site, BY_SLUG["papers"], plan_of(site)), "page": page}
    return render(request, "site/removals.html", context)
