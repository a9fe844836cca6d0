"""Papers that leave the tool, printed from the plan as it stands or from a revision."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from planner.papers import making
from planner.papers.book import PARTS
from planner.papers.sheets.files import (
    Imprint,
    Sheet,
    about_sheet,
    allocation_sheet,
    imprint,
    port_sheet,
    write_csv,
    write_xlsx,
)
from planner.plan import Plan
from planner.serving.press import PRESS
from sites.access import door as access
from sites.intake.reading_back import edit_counters
from sites.models import Site
from sites.viewing.papers import download, edition, note_printed, printed_from
from sites.web.gate import heavy


@access.for_site(access.READ)
@require_safe
@heavy
def book(request: HttpRequest, site: Site) -> HttpResponse:
    """The build book as PDF; ``?part=run-sheets`` prints that part of it alone."""
    part = next((one for one in PARTS if one.slug == request.GET.get("part", PARTS[0].slug)), None)
    if part is None:
        raise Http404
    plan, revision = printed_from(request, site)
    content = PRESS.make(
        making.book, making.Ground.of(plan), edition(request, site, revision, part.slug)
    )
    note_printed(request, site, part.title.lower(), plan, revision)
    if part is PARTS[0]:
        paper = "build-book"
    else:
        paper = part.slug
    return download(content, "application/pdf", site, paper, revision, "pdf")


SHEETS = {"allocation-sheet": ("xlsx", "csv"), "port-sheet": ("xlsx", "csv"), "workbook": ("xlsx",)}
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@access.for_site(access.READ)
@require_safe
def sheet(request: HttpRequest, site: Site, name: str, ending: str) -> HttpResponse:
    """The allocation sheet, the port sheet, or the workbook of all sheets, as XLSX or CSV."""
    if ending not in SHEETS.get(name, ()):
        raise Http404
    if name == "workbook":
        return _workbook(request, site)
    return _sheet(request, site, name, ending)


@heavy
def _workbook(request: HttpRequest, site: Site) -> HttpResponse:
    counters = edit_counters(site)  # before the plan: see there
    plan, revision = printed_from(request, site)
    if revision:
        letter = revision.letter
    else:
        letter = ""
    content = PRESS.make(
        making.workbook, making.Ground.of(plan), letter, {} if revision else counters
    )
    note_printed(request, site, "workbook", plan, revision)
    return download(content, XLSX, site, "workbook", revision, "xlsx")


def _sheet(request: HttpRequest, site: Site, name: str, ending: str) -> HttpResponse:
    counters = edit_counters(site)  # before the plan: see there
    plan, revision = printed_from(request, site)
    mine = imprint(plan, revision=revision.letter if revision else "")
    made = _sheets(name, plan, mine, {} if revision else counters)
    if ending == "csv":
        content, kind = write_csv(made[0]), "text/csv; charset=utf-8"
    else:
        content, kind = write_xlsx(made, mine), XLSX
    note_printed(request, site, name.replace("-", " "), plan, revision)
    return download(content, kind, site, name, revision, ending)


def _sheets(name: str, plan: Plan, mine: Imprint, counters: dict[str, int]) -> tuple[Sheet, ...]:
    if name == "port-sheet":
        return (port_sheet(plan),)
    made = allocation_sheet(plan, counters)
    return (made, about_sheet(mine, (made,)))
