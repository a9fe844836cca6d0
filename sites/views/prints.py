"""Papers that leave the tool, printed from the plan as it stands or from a revision."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from planner import facts as f
from planner import work_out
from planner.papers.book import Issue, build_book
from planner.papers.sheets import allocation_sheet, imprint, port_sheet, write_csv, write_xlsx
from planner.plan import Plan
from sites import access
from sites.models import Printed, Revision, Site
from sites.reading import read_site, today_at


def _printed_from(request: HttpRequest, site: Site) -> tuple[Plan, Revision | None]:
    """The plan that ``?revision=B`` names, else the plan as it stands."""
    letter = request.GET.get("revision", "")
    if not letter:
        return work_out(read_site(site)), None
    revision = get_object_or_404(Revision.objects.select_related("by"), site=site, letter=letter)
    return work_out(f.from_json(revision.content)), revision


def _download(
    content: bytes, kind: str, site: Site, paper: str, revision: Revision | None, ending: str
) -> HttpResponse:
    letter = revision.letter if revision else "draft"
    name = f"{site.customer.code}-{site.code}-{paper}-{letter}.{ending}"
    return HttpResponse(
        content, content_type=kind,
        headers={"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "private, no-store"},
    )  # fmt: skip


def _note(request: HttpRequest, site: Site, paper: str, plan: Plan, revision: Revision | None) -> None:
    if request.method == "GET":
        Printed.objects.create(
            site=site,
            paper=paper,
            letter=revision.letter if revision else "",
            fingerprint=plan.fingerprint,
            by=request.user,
        )


def _issues(site: Site) -> tuple[list[Issue], list[Issue]]:
    revisions = Revision.objects.filter(site=site).select_related("by").defer("content").order_by("number")
    papers = Printed.objects.filter(site=site).select_related("by")[:20]
    return (
        [
            Issue(name=r.letter, fingerprint=r.fingerprint, on=r.at.date(), by=str(r.by or ""), reason=r.reason)
            for r in revisions
        ],
        [
            Issue(name=p.paper, fingerprint=p.fingerprint, on=p.at.date(), by=str(p.by or ""), letter=p.letter)
            for p in papers
        ],
    )


@access.for_site(access.READ)
@require_safe
def book(request: HttpRequest, site: Site) -> HttpResponse:
    """The build book as PDF."""
    plan, revision = _printed_from(request, site)
    revisions, papers = _issues(site)
    issued = (
        {"issued_on": revision.at.date(), "issued_by": str(revision.by or ""), "reason": revision.reason}
        if revision
        else {}
    )
    content = build_book(
        plan, printed_on=today_at(site), printed_by=str(request.user), revisions=revisions, papers=papers,
        revision_letter=revision.letter if revision else "", **issued,
    )  # fmt: skip
    _note(request, site, "build book", plan, revision)
    return _download(content, "application/pdf", site, "build-book", revision, "pdf")


SHEETS = {"allocation-sheet": allocation_sheet, "port-sheet": port_sheet}
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@access.for_site(access.READ)
@require_safe
def sheet(request: HttpRequest, site: Site, name: str, ending: str) -> HttpResponse:
    """The allocation sheet or the port sheet, as XLSX or CSV."""
    if name not in SHEETS or ending not in ("xlsx", "csv"):
        raise Http404
    plan, revision = _printed_from(request, site)
    made = SHEETS[name](plan)
    if ending == "csv":
        content, kind = write_csv(made), "text/csv; charset=utf-8"
    else:
        content, kind = write_xlsx([made], imprint(plan, revision=revision.letter if revision else "")), XLSX
    _note(request, site, name.replace("-", " "), plan, revision)
    return _download(content, kind, site, name, revision, ending)
