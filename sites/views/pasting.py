"""Paste rows: write them, see what each would do, confirm."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from planner.record.chapters import BY_SECTION, Section, chapter_of
from sites.access import asker
from sites.access import door as access
from sites.actions import once
from sites.actions.pasting import Row, write_rows
from sites.actions.stages import Refused
from sites.forms.pasting import PasteForm
from sites.forms.secrets import BOX
from sites.intake import pasting
from sites.models import Site
from sites.pages.standing import plan_of
from sites.pages.workbook import frame


@access.for_site(access.EDIT)
@require_http_methods(["GET", "HEAD", "POST"])
def paste(request: HttpRequest, site: Site, section: str) -> HttpResponse:
    part = BY_SECTION.get(section)
    if part is None or part.single:
        raise Http404
    text, plan = request.POST.get("rows", ""), plan_of(site)
    ticked = request.POST.get(BOX, "")
    if request.method == "POST":
        shown = pasting.preview(site, part, plan.facts, text, ticked)
    else:
        shown = None
    overtaken = ""
    if shown and "confirm" in request.POST:
        try:
            made = _write(request, site, part, shown)
        except Refused as error:
            made, overtaken = None, str(error)
        if made is not None:
            messages.success(request, f"{made.record} rows are in.")
            return redirect("chapter", site.customer.code, site.code, chapter_of(part).slug)
    asker.now().forget()  # these rows were only looked at
    context = {
        **frame(request, site, chapter_of(part), plan),
        "section": part,
        "form": PasteForm(text),
        "shown": shown,
        "box": shown.asked.box() if shown else None,
    }
    if shown and (shown.trouble or shown.refused):
        status = 422
    else:
        status = 200
    if overtaken:
        messages.error(request, overtaken)
        status = 409
    return render(request, "workbook/paste.html", context, status=status)


def _write(
    request: HttpRequest, site: Site, part: Section, shown: pasting.Preview
) -> once.Made | None:
    """Writes every row, once however often it is confirmed. Raises :class:`Refused`."""
    looked_at = request.POST.get("looked-at")
    return once.take(
        once.Sent(request.user, f"paste {part.slug}", site.pk, request.POST),
        valid=lambda: shown.fit,
        make=lambda: write_rows(
            by=request.user, site=site, kind=part.kind, rows=_rows(shown, looked_at)
        ),
    )


def _rows(shown: pasting.Preview, looked_at: str | None) -> list[Row]:
    """What is to be written, against what the page showed. Raises :class:`Refused` when it showed other records.

    Without ``looked_at`` whoever sends the rows has looked just now.
    """
    if looked_at is None:
        looked_at = shown.looked_at
    counters = pasting.counters_in(looked_at)
    if {row.pk for row in shown.rows if row.pk} != set(counters):
        raise Refused(
            "Meanwhile a record was added, renamed or removed that these rows name. Nothing was written; look again."
        )
    rows = []
    for row in shown.rows:
        if row.form is not None:
            if row.pk:
                opened_at = counters[row.pk]
            else:
                opened_at = 0
            rows.append(Row(row.form.values(), row.pk, opened_at))
    return rows
