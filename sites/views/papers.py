"""Revisions, what changed between them, who changed what, and accepted findings."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from planner.comparing.differences import compare
from planner.record import facts as f
from planner.record.chapters import BY_NUMBER, BY_SLUG
from sites.access import door as access
from sites.actions import once
from sites.actions import papers as actions
from sites.forms.papers import AcceptForm, FreezeForm
from sites.loading import today_at
from sites.models import Revision, Site
from sites.pages import history
from sites.pages.standing import plan_of
from sites.pages.workbook import frame
from sites.viewing.chapters import show_page


def _chapter(site: Site, slug: str) -> HttpResponse:
    return redirect("chapter", site.customer.code, site.code, slug)


@access.for_site(access.LEAD)
@require_POST
def freeze(request: HttpRequest, site: Site) -> HttpResponse:
    form = FreezeForm(request.POST)
    made = once.take(
        once.Sent(request.user, "revision", site.pk, request.POST),
        valid=form.is_valid,
        make=lambda: actions.freeze(by=request.user, site=site, **form.cleaned_data),
    )
    if made is not None:
        revision = get_object_or_404(Revision, pk=made.record, site=site)
        messages.success(
            request,
            f"Revision {revision.letter} is frozen; its fingerprint is {revision.fingerprint}.",
        )
        return _chapter(site, "papers")
    return show_page(request, site, BY_SLUG["papers"], status=422, freeze_form=form, bad=form)


@access.for_site(access.READ)
@require_safe
def differences(request: HttpRequest, site: Site) -> HttpResponse:
    """``?from=A&to=B``; without ``to`` the plan as it stands."""
    before = get_object_or_404(Revision, site=site, letter=request.GET.get("from", ""))
    wanted = request.GET.get("to", "")
    if wanted:
        after = get_object_or_404(Revision, site=site, letter=wanted)
    else:
        after = None
    plan = plan_of(site)
    if after:
        new = f.from_json(after.content)
    else:
        new = plan.facts
    found = compare(f.from_json(before.content), new)
    context = {
        **frame(request, site, BY_SLUG["papers"], plan),
        "before": before,
        "after": after,
        "found": found,
    }
    return render(request, "papers/differences.html", context)


@access.for_site(access.READ)
@require_safe
def changes(request: HttpRequest, site: Site) -> HttpResponse:
    """Who changed what and when; ``?of=host-12`` for one record."""
    anchor = request.GET.get("of", "")
    if anchor and not history.is_anchor(anchor):
        raise Http404
    context = {
        **frame(request, site, BY_SLUG["papers"], plan_of(site)),
        "lines": history.lines(site, anchor),
        "of": anchor,
    }
    return render(request, "papers/changes.html", context)


@access.for_site(access.LEAD)
@require_http_methods(["GET", "POST"])
def accept(request: HttpRequest, site: Site, token: str) -> HttpResponse:
    plan = plan_of(site)
    finding = plan.review.get(token)
    if finding is None:
        raise Http404
    chapter = BY_NUMBER[finding.chapter]
    form = AcceptForm(request.POST or None, today=today_at(site))
    if request.method == "POST":
        made = once.take(
            once.Sent(request.user, "acceptance", site.pk, request.POST),
            valid=form.is_valid,
            make=lambda: actions.accept(
                by=request.user, site=site, finding=finding, **form.cleaned_data
            ),
        )
        if made is not None:
            messages.success(request, f"Accepted: {finding.title}")
            return _chapter(site, chapter.slug)
    context = {
        **frame(request, site, chapter, plan),
        "finding": finding,
        "form": form,
        "bad": form if form.errors else None,
    }
    return render(request, "papers/accept.html", context, status=422 if form.errors else 200)


@access.for_site(access.LEAD)
@require_POST
def withdraw(request: HttpRequest, site: Site, token: str) -> HttpResponse:
    finding = plan_of(site).review.get(token)
    actions.withdraw(site=site, token=token)
    return _chapter(site, BY_NUMBER[finding.chapter].slug if finding else "papers")
