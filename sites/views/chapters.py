"""The pages of a site's chapters, and what can be done to the records on them.

One address shows a chapter; ``?edit=`` turns a row into inputs, ``?add=`` opens a new row,
``?remove=`` asks. htmx asks for the same addresses and gets the workbook without the frame.
"""

from __future__ import annotations

import contextlib

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from planner.plan import Plan
from planner.record.chapters import BY_SECTION, BY_SLUG, Chapter, Section, chapter_of
from sites.access import door as access
from sites.actions import once
from sites.actions import records as actions
from sites.forms import record_form
from sites.forms.numbers import whole
from sites.models import RECORD_MODELS, Removal, Site, SiteRecord
from sites.pages import overtaken, removals
from sites.pages.standing import plan_of
from sites.viewing.chapters import show_page


def _chapter(slug: str) -> Chapter:
    if slug not in BY_SLUG:
        raise Http404
    return BY_SLUG[slug]


def _section(slug: str) -> Section:
    if slug not in BY_SECTION:
        raise Http404
    return BY_SECTION[slug]


def _record(site: Site, section: Section, pk: int) -> SiteRecord:
    """One present record of the site, or 404."""
    model = RECORD_MODELS[section.kind]
    if section.kind == "site":
        if pk != site.pk:
            raise Http404
        return site
    return get_object_or_404(model, pk=pk, site=site, removal=None)


def _url(site: Site, chapter: Chapter, anchor: str = "") -> str:
    url = reverse("chapter", args=[site.customer.code, site.code, chapter.slug])
    if anchor:
        return f"{url}#{anchor}"
    return url


@access.for_site(access.READ)
@require_GET
def chapter(request: HttpRequest, site: Site, slug: str) -> HttpResponse:
    found = _chapter(slug)
    plan = plan_of(site)
    more: dict = {"editing": {}}
    if request.access.may_edit:
        more = _asked(request, site, found, plan)
    return show_page(request, site, found, plan, **more)


def _asked(request: HttpRequest, site: Site, found: Chapter, plan: Plan) -> dict:
    """What the address asks to be opened on the page."""
    editing, more = {}, {}
    for section in found.sections:
        if request.GET.get("add") == section.slug and not section.single:
            editing[f"{section.slug}:new"] = record_form(section, plan.facts)
        wanted, _, pk = request.GET.get("edit", "").partition(":")
        if wanted == section.slug and whole(pk):
            record = _record(site, section, whole(pk))
            anchor = f"{section.kind}-{record.pk}"
            editing[f"{section.slug}:{anchor}"] = record_form(section, plan.facts, record)
        wanted, _, pk = request.GET.get("remove", "").partition(":")
        if wanted == section.slug and whole(pk) and not section.single:
            record = _record(site, section, whole(pk))
            owned, naming = actions.hangs_on(record)
            more["removing"] = {
                "section": section,
                "record": record,
                "owned": owned,
                "naming": naming,
            }
    return {"editing": editing, **more}


def _done(request: HttpRequest, site: Site, found: Chapter, anchor: str) -> HttpResponse:
    if request.htmx:
        site.refresh_from_db()
        response = show_page(request, site, found, focus=anchor)
        response.headers["HX-Replace-Url"] = _url(site, found)
        return response
    return redirect(_url(site, found, anchor))


@access.for_site(access.EDIT)
@require_POST
def add(request: HttpRequest, site: Site, section: str) -> HttpResponse:
    part = _section(section)
    if part.single:
        raise Http404
    plan = plan_of(site)
    form = record_form(part, plan.facts, data=request.POST)
    made = once.take(
        once.Sent(request.user, part.kind, site.pk, request.POST),
        valid=form.is_valid,
        make=lambda: actions.add_record(
            by=request.user, site=site, kind=part.kind, values=form.values()
        ),
    )
    if made is None:
        return show_page(
            request,
            site,
            chapter_of(part),
            plan,
            status=422,
            editing={f"{part.slug}:new": form},
            bad=form,
        )
    record = once.still_there(
        made, RECORD_MODELS[part.kind].objects.filter(site=site, removal=None)
    )
    if record is None:
        messages.warning(request, once.GONE)
        return _done(request, site, chapter_of(part), f"s-{part.slug}")
    messages.success(request, f"Added: {record}.")
    return _done(request, site, chapter_of(part), record.anchor)


@access.for_site(access.EDIT)
@require_POST
def change(request: HttpRequest, site: Site, section: str, pk: int) -> HttpResponse:
    part = _section(section)
    record = _record(site, part, pk)
    plan = plan_of(site)
    form = record_form(part, plan.facts, record, request.POST)
    key = f"{part.slug}:{part.kind}-{record.pk}"
    if not form.is_valid():
        return show_page(
            request, site, chapter_of(part), plan, status=422, editing={key: form}, bad=form
        )
    saved = actions.change_record(
        by=request.user, kind=part.kind, pk=pk, opened_at=form.opened_at, values=form.values()
    )
    if saved.clashes:
        clash = overtaken.choices(form, saved, request.POST)
        return show_page(request, site, chapter_of(part), plan, status=409, clash=clash)
    if saved.merged:
        messages.info(request, overtaken.merged_words(form, saved))
    messages.success(request, "Saved.")
    site = Site.objects.select_related("customer").get(pk=site.pk)
    return _done(request, site, chapter_of(part), f"{part.kind}-{pk}")


@access.for_site(access.EDIT)
@require_POST
def remove(request: HttpRequest, site: Site, section: str, pk: int) -> HttpResponse:
    part = _section(section)
    if part.single:
        raise Http404
    record = get_object_or_404(RECORD_MODELS[part.kind], pk=pk, site=site)
    actions.remove_record(by=request.user, record=record)  # pressed twice, it is removed once
    return _done(request, site, chapter_of(part), f"s-{part.slug}")


@access.for_site(access.EDIT)
@require_POST
def bring_back(request: HttpRequest, site: Site, removal: int) -> HttpResponse:
    found = get_object_or_404(Removal, pk=removal, site=site)
    lacking = removals.lacking_of([found])[found.pk]
    back = actions.bring_back(by=request.user, removal=found)
    messages.success(request, f"Brought back: {found.what}.")
    if back and lacking:
        messages.warning(
            request, f"Not wholly: {'; '.join(lacking)}. Bring that back too, or choose another."
        )
    with contextlib.suppress(IndexError, StopIteration):
        part = next(s for s in BY_SECTION.values() if s.kind == back[0].facts.kind)
        return _done(request, site, chapter_of(part), back[0].anchor)
    return redirect(_url(site, BY_SLUG["brief"]))


@access.for_site(access.EDIT)
@require_POST
def mend(request: HttpRequest, site: Site, token: str) -> HttpResponse:
    """Does what a finding offers to do, through the record's own form, as if a person typed it."""
    plan = plan_of(site)
    finding = plan.review.get(token)
    if finding is None or finding.mend is None:
        messages.info(request, "That finding no longer stands; nothing was changed.")
        return redirect(_url(site, BY_SLUG["brief"]))
    done = actions.apply_mend(by=request.user, site=site, mend=finding.mend, facts=plan.facts)
    if done:
        messages.success(request, f"Done: {finding.mend.words}.")
    else:
        messages.error(
            request,
            "The value offered does not fit the record any more. Open the row and set it there.",
        )
    found = next(c for c in BY_SLUG.values() if c.number == finding.chapter)
    return _done(request, site, found, finding.at.anchor)
