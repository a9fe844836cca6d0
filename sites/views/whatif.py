"""8 Capacity: what if. Values are tried without saving; kept or left."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_POST, require_safe

from planner import work_out
from planner.comparing import whatif
from planner.papers.drawings.bars import draw as draw_bars
from planner.papers.drawings.svg import to_svg
from planner.plan import Plan
from planner.record.chapters import BY_SLUG
from sites.access import door as access
from sites.actions import once
from sites.actions.counter import edits_of
from sites.actions.stages import Refused
from sites.actions.whatif import keep as keep_changes
from sites.forms.numbers import whole
from sites.forms.whatif import WhatIfForm, link_of
from sites.models import Site
from sites.pages.standing import plan_of
from sites.pages.workbook import frame


def _outcome(site: Site, plan: Plan, form: WhatIfForm) -> dict:
    """What the tried values lead to, beside today's."""
    if not form.is_valid():
        return {"wrong": form.wrong()}
    changes, copies = form.changes(), form.copies()
    if changes or copies:
        tried = work_out(whatif.apply(plan.facts, changes, copies))
    else:
        tried = plan
    found = whatif.compare(plan, tried)
    return {
        "found": found,
        "moved": [row for row in found.rows if row.way],
        "same": [r for r in found.rows if not r.way],
        "typed": form.typed(),
        "opened": edits_of(site, [change.at for change in changes]),
        "bars": mark_safe(to_svg(draw_bars(tried), "tried")),  # noqa: S308  (to_svg escapes what people typed)
    }


@access.for_site(access.READ)
@require_safe
def panel(request: HttpRequest, site: Site) -> HttpResponse:
    """The panel; for htmx only what the values lead to. ``?ask=`` answers a ready-made question."""
    plan = plan_of(site)
    form = WhatIfForm(request.GET, facts=plan.facts)
    outcome = _outcome(site, plan, form)
    if "wrong" in outcome:
        status = 422
    else:
        status = 200
    context = {
        **outcome,
        "site": site,
        "access": request.access,
        "form": form,
        "questions": whatif.QUESTIONS,
    }
    if request.htmx:
        return render(request, "whatif/_outcome.html", context, status=status)
    context |= frame(request, site, BY_SLUG["capacity"], plan)
    return render(request, "whatif/panel.html", context, status=status)


@access.for_site(access.READ)
@require_safe
def question(request: HttpRequest, site: Site, key: str) -> HttpResponse:
    """The answer to a ready-made question, and the way to try it."""
    plan = plan_of(site)
    answer = whatif.ask(plan, key)
    if answer is None:
        raise Http404
    context = {
        **frame(request, site, BY_SLUG["capacity"], plan),
        "answer": answer,
        "asked": whatif.QUESTIONS[key][0],
        "questions": whatif.QUESTIONS,
        "key": key,
        "link": link_of(answer.changes, answer.copies, plan.facts),
    }
    return render(request, "whatif/question.html", context)


@access.for_site(access.EDIT)
@require_POST
def keep(request: HttpRequest, site: Site) -> HttpResponse:
    plan = plan_of(site)
    form = WhatIfForm(request.POST, facts=plan.facts)
    sent = request.POST.items()
    opened = {
        name.removeprefix("opened-"): whole(text)
        for name, text in sent
        if name.startswith("opened-")
    }
    try:
        if not form.is_valid():
            raise Refused(
                "A value cannot be: " + "; ".join(f"{what}: {why}" for _, what, why in form.wrong())
            )
        changes, copies = form.changes(), form.copies()
        made = once.take(
            once.Sent(request.user, "what if", site.pk, request.POST),
            valid=lambda: True,
            make=lambda: keep_changes(
                by=request.user,
                site=site,
                facts=plan.facts,
                changes=changes,
                copies=copies,
                opened=opened,
            ),
        )
        messages.success(request, f"Kept: {made.record if made else 0} records changed.")
    except Refused as error:
        messages.error(request, str(error))
    return redirect("chapter", site.customer.code, site.code, "capacity")
