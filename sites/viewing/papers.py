"""Which plan a paper is printed from, what it says of itself, and how it leaves the house."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404

from planner import work_out
from planner.papers.book import Issue
from planner.plan import Plan
from planner.record import facts as f
from sites.actions import papers as actions
from sites.loading import today_at
from sites.models import Printed, Revision, Site
from sites.pages.standing import plan_of


def printed_from(request: HttpRequest, site: Site) -> tuple[Plan, Revision | None]:
    """The plan that ``?revision=B`` names, else the plan as it stands."""
    letter = request.GET.get("revision", "")
    if not letter:
        return plan_of(site), None
    revision = get_object_or_404(Revision.objects.select_related("by"), site=site, letter=letter)
    plan = work_out(f.from_json(revision.content))
    plan.fingerprint = (
        revision.fingerprint
    )  # what was frozen, also when a record has learnt a field since
    return plan, revision


def download(
    content: bytes, kind: str, site: Site, paper: str, revision: Revision | None, ending: str
) -> HttpResponse:
    if revision:
        letter = revision.letter
    else:
        letter = "draft"
    return attachment(content, kind, f"{site.customer.code}-{site.code}-{paper}-{letter}.{ending}")


def attachment(content: bytes, kind: str, name: str) -> HttpResponse:
    """A file that the browser keeps under ``name``, and nobody else."""
    return HttpResponse(
        content,
        content_type=kind,
        headers={
            "Content-Disposition": f'attachment; filename="{name}"',
            "Cache-Control": "private, no-store",
        },
    )


def note_printed(
    request: HttpRequest, site: Site, paper: str, plan: Plan, revision: Revision | None
) -> None:
    if request.method == "GET":
        if revision:
            letter = revision.letter
        else:
            letter = ""
        actions.note_printed(
            by=request.user, site=site, paper=paper, fingerprint=plan.fingerprint, letter=letter
        )


def _issues(site: Site) -> tuple[list[Issue], list[Issue]]:
    revisions = (
        Revision.objects.filter(site=site).select_related("by").defer("content").order_by("number")
    )
    printed = Printed.objects.filter(site=site).select_related("by")[:20]
    return (
        [
            Issue(
                name=r.letter,
                fingerprint=r.fingerprint,
                on=r.at.date(),
                by=str(r.by or ""),
                reason=r.reason,
            )
            for r in revisions
        ],
        [
            Issue(
                name=p.paper,
                fingerprint=p.fingerprint,
                on=p.at.date(),
                by=str(p.by or ""),
                letter=p.letter,
            )
            for p in printed
        ],
    )


def _before(site: Site, revision: Revision | None) -> Revision | None:
    """The revision that a paper is compared with: the one before, for a draft the newest."""
    found = Revision.objects.filter(site=site).order_by("-number")
    if revision:
        return found.filter(number__lt=revision.number).first()
    return found.first()


def edition(
    request: HttpRequest, site: Site, revision: Revision | None, part: str
) -> dict[str, Any]:
    """What a book says of itself: the words of :func:`planner.papers.book.build_book`."""
    revisions, papers = _issues(site)
    before = _before(site, revision)
    found = {
        "parts": part,
        "printed_on": today_at(site),
        "printed_by": str(request.user),
        "revisions": revisions,
        "papers": papers,
        "site_url": request.build_absolute_uri(f"/at/{site.customer.code}/{site.code}/"),
        "previous": f.from_json(before.content) if before else None,
        "previous_letter": before.letter if before else "",
    }
    if revision:
        found["revision_letter"] = revision.letter
        found["issued_on"] = revision.at.date()
        found["issued_by"] = str(revision.by or "")
        found["reason"] = revision.reason
    return found
