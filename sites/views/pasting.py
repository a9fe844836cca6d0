"""Paste rows: write them, see what each would do, confirm."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from planner.record.chapters import BY_SECTION, chapter_of
from sites.access import asker
from sites.access import door as access
from sites.actions import once
from sites.actions import records as actions
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
    shown = (
        pasting.preview(site, part, plan.facts, text, ticked) if request.method == "POST" else None
    )
    if shown and "confirm" in request.POST:
        made = once.take(
            once.Sent(request.user, f"paste {part.slug}", site.pk, request.POST),
            valid=lambda: shown.fit,
            make=lambda: _write(request, site, part, shown),
        )
        if made is not None:
            messages.success(request, f"{made.record} rows are in.")
            return redirect("chapter", site.customer.code, site.code, chapter_of(part).slug)
    asker.now().forget()  # these rows were only looked at
    context = {
        **frame(request, site, chapter_of(part), plan),
        "section": part,
        "text": text,
        "shown": shown,
        "box": shown.asked.box() if shown else None,
    }
    status = 422 if shown and (shown.trouble or shown.refused) else 200
    return render(request, "workbook/paste.html", context, status=status)


@transaction.atomic
def _write(request: HttpRequest, site: Site, part, shown: pasting.Preview) -> int:
    """Writes every row, or none; gives how many."""
    for row in shown.rows:
        if row.does == "added":
            actions.add_record(by=request.user, site=site, kind=part.kind, values=row.form.values())
        elif row.does == "changed":
            opened_at = row.form.cleaned_data["edits"] or row.form.record.edits
            actions.change_record(
                by=request.user,
                kind=part.kind,
                pk=row.pk,
                opened_at=opened_at,
                values=row.form.values(),
            )
    return shown.writes
