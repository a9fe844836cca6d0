"""11.3 Built values: taken over into the plan, and everything the next technician needs in one file."""

from __future__ import annotations

import tempfile

from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST, require_safe

from planner.comparing.as_built import drift
from planner.papers import making
from planner.papers.book import PARTS
from planner.serving.press import PRESS
from sites.access import door as access
from sites.actions import built as actions
from sites.actions.stages import Refused
from sites.models import Revision, Site
from sites.pages.handover import pack
from sites.pages.standing import plan_of
from sites.viewing.papers import edition, note_printed
from sites.web.gate import heavy


@access.for_site(access.EDIT)
@require_POST
def take_over(request: HttpRequest, site: Site, pk: int) -> HttpResponse:
    """One built value becomes the plan's."""
    found = next((one for one in drift(plan_of(site).facts) if one.built.id == pk), None)
    if found is None:
        raise Http404
    try:
        actions.take_over(by=request.user, site=site, drift=found)
        messages.success(
            request, f"The plan says {found.shown} now: {found.what} of {found.whose}."
        )
    except Refused as error:
        messages.error(request, str(error))
    return redirect("chapter", site.customer.code, site.code, "papers")


@access.for_site(access.READ)
@require_safe
@heavy
def handover(request: HttpRequest, site: Site) -> FileResponse:
    """The handover pack in one ZIP file."""
    plan = plan_of(site)
    revision = (
        Revision.objects.filter(site=site, fingerprint=plan.fingerprint)
        .select_related("by")
        .first()
    )
    words = edition(request, site, revision, PARTS[0].slug)
    book, sheets = PRESS.make(making.handover, making.Ground.of(plan), words)
    into = tempfile.TemporaryFile()  # noqa: SIM115  (the answer closes it)
    pack(into, site=site, plan=plan, book=book, sheets=sheets, by=str(request.user))
    note_printed(request, site, "handover pack", plan, revision)
    into.seek(0)
    name = f"{site.customer.code}-{site.code}-handover.zip"
    response = FileResponse(into, as_attachment=True, filename=name, content_type="application/zip")
    response.headers["Cache-Control"] = "private, no-store"
    return response
