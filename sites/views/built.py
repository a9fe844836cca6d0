"""11.3 Built values: taken over into the plan, and everything the next technician needs in one file."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from planner.built import drift
from sites import access
from sites.actions import built as actions
from sites.actions.stages import Refused
from sites.models import Site
from sites.reading import read_site


@access.for_site(access.EDIT)
@require_POST
def take_over(request: HttpRequest, site: Site, pk: int) -> HttpResponse:
    """One built value becomes the plan's."""
    found = next((one for one in drift(read_site(site)) if one.built.id == pk), None)
    if found is None:
        raise Http404
    try:
        actions.take_over(by=request.user, site=site, drift=found)
        messages.success(request, f"The plan says {found.shown} now: {found.what} of {found.whose}.")
    except Refused as error:
        messages.error(request, str(error))
    return redirect("chapter", site.customer.code, site.code, "papers")
