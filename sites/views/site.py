"""The site as a whole: copy it, remove it."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from planner.record.chapters import BY_SLUG
from sites.access import asker
from sites.access import door as access
from sites.actions import once
from sites.actions.copying import copy_site
from sites.actions.records import remove_site
from sites.forms.customers import CopyForm
from sites.models import Site
from sites.pages.standing import plan_of
from sites.pages.workbook import frame
from sites.viewing.making import made_of


@access.for_site(access.READ)
@require_http_methods(["GET", "HEAD", "POST"])
def copy(request: HttpRequest, site: Site) -> HttpResponse:
    """Copies the site to where the person may make one."""
    proposed = {
        "customer": site.customer.code,
        "name": f"{site} (copy)",
        "code": f"{site.code}-copy",
    }
    form = CopyForm(
        request.POST or None, customers=access.may_edit_at(request.user), initial=proposed
    )
    if request.method == "POST":
        sent = once.Sent(request.user, "copy", site.pk, request.POST)
        made = made_of(form, sent, lambda: _copied(request, site, form))
        if made is not None:
            return _at_copy(request, site, made)
    context = {
        **frame(request, site, BY_SLUG["brief"], plan_of(site)),
        "form": form,
        "bad": form if form.errors else None,
    }
    return render(request, "site/copy.html", context, status=422 if form.errors else 200)


def _copied(request: HttpRequest, site: Site, form: CopyForm) -> Site:
    lead = access.role_at(request.user, form.cleaned_data["customer"]) == access.LEAD
    return copy_site(by=request.user, source=site, may_excuse=lead, **form.cleaned_data)


def _at_copy(request: HttpRequest, site: Site, made: once.Made) -> HttpResponse:
    copied = once.still_there(made, access.sites_of(request.user).select_related("customer"))
    if copied is None:
        messages.warning(request, once.GONE)
        return redirect("chapter", site.customer.code, site.code, "brief")
    asker.now().site = copied
    messages.success(request, f"This is the copy of {site}. Set its dates first.")
    return redirect("chapter", copied.customer.code, copied.code, "brief")


@access.for_site(access.LEAD)
@require_http_methods(["GET", "HEAD", "POST"])
def remove(request: HttpRequest, site: Site) -> HttpResponse:
    """Asks, then removes the site with everything on it; its customer's page can bring it back."""
    if request.method == "POST":
        remove_site(by=request.user, site=site)
        messages.success(request, f"{site} is removed. It can be brought back on this page.")
        return redirect("customer", site.customer.code)
    plan = plan_of(site)
    counts = {
        name: len(getattr(plan.facts, name))
        for name in ("networks", "hosts", "templates", "seat_groups", "answers")
    }
    context = {**frame(request, site, BY_SLUG["brief"], plan), "held": counts}
    return render(request, "site/remove.html", context)
