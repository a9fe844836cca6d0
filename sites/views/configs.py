"""Configurations and the calendar, as they are handed to whoever keeps the network."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from planner.papers.calendar import MEDIA_TYPE, build_calendar
from planner.papers.configs import CONFIGS, Edition
from planner.plan import Plan
from sites.access import door as access
from sites.actions.papers import note_printed
from sites.loading import today_at
from sites.models import Revision, Site
from sites.viewing.papers import attachment, printed_from


def _handed(
    request: HttpRequest,
    site: Site,
    content: bytes,
    kind: str,
    name: str,
    *,
    paper: str,
    plan: Plan,
    revision: Revision | None,
) -> HttpResponse:
    """A file that leaves the tool, noted as every paper is."""
    if request.method == "GET":
        if revision:
            letter = revision.letter
        else:
            letter = ""
        note_printed(
            by=request.user, site=site, paper=paper, fingerprint=plan.fingerprint, letter=letter
        )
    return attachment(content, kind, name)


@access.for_site(access.READ)
@require_safe
def config(request: HttpRequest, site: Site, slug: str) -> HttpResponse:
    """One of ``planner.papers.configs.CONFIGS``, from the plan as it stands or from a revision."""
    kind = CONFIGS.get(slug)
    if kind is None:
        raise Http404
    plan, revision = printed_from(request, site)
    edition = Edition(today_at(site), revision.letter if revision else "")
    content = kind.packed(kind.make(plan, edition), edition)
    name = kind.file_name(plan, edition)
    return _handed(
        request,
        site,
        content,
        kind.media_type,
        name,
        paper=kind.title,
        plan=plan,
        revision=revision,
    )


@access.for_site(access.READ)
@require_safe
def dates(request: HttpRequest, site: Site) -> HttpResponse:
    """The site's dates as iCalendar."""
    plan, revision = printed_from(request, site)
    if revision:
        letter = revision.letter
    else:
        letter = ""
    content = build_calendar(plan, stamp=timezone.now(), revision=letter)
    name = f"{site.customer.code}-{site.code}-dates-{letter or 'draft'}.ics"
    return _handed(
        request, site, content, MEDIA_TYPE, name, paper="calendar", plan=plan, revision=revision
    )
