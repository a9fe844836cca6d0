"""Planning numbers: those of a site in chapter 8, and the house's own for every site."""

from __future__ import annotations

import itertools

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from planner.catalogue.assumptions import Assumption, Numbers, listed
from planner.engine.provenance import uses
from planner.record.chapters import BY_SLUG
from planner.record.facts import Assumed as AssumedFact
from planner.record.facts import Site as NoSite
from planner.record.facts import SiteFacts
from sites.access import door as access
from sites.actions import assumptions as actions
from sites.forms.assumptions import AssumptionForm
from sites.loading import today_at
from sites.models import HouseAssumption, Site
from sites.pages.standing import plan_of
from sites.pages.workbook import frame

GROUPS = {
    "host": "Hosts",
    "desktop": "Desktops",
    "image": "Images",
    "storage": "Storage",
    "seats": "Seats and the morning",
    "addresses": "Addresses",
    "lease": "Leases",
    "network": "Networks",
    "line": "Lines",
    "recovery": "Recovery",
    "facility": "Power, heat and rack",
    "activation": "Activation and licences",
    "certificate": "Certificates",
    "credential": "Credentials",
    "schedule": "The on-site day",
    "stages": "Stages",
    "clock": "Clocks",
}


def grouped(numbers: Numbers) -> list[tuple[str, list[Assumption]]]:
    """The numbers under the heading of what they are about, in the order of the headings."""
    place = {group: at for at, group in enumerate(GROUPS)}
    rows = sorted(
        numbers.all.values(), key=lambda one: (place.get(one.group, len(GROUPS)), one.group)
    )
    return [
        (GROUPS.get(group, group.capitalize()), list(found))
        for group, found in itertools.groupby(rows, key=lambda one: one.group)
    ]


def _one(numbers: Numbers, key: str) -> Assumption:
    if key not in numbers.all:
        raise Http404
    return numbers.all[key]


def _house_numbers() -> Numbers:
    rows = HouseAssumption.objects.exclude(value=None)
    return Numbers(
        tuple(
            AssumedFact(
                key=row.key,
                value=row.value,
                origin=row.origin,
                scope="house",
                note=row.note,
                set_on=row.set_on,
            )
            for row in rows
        )
    )


def _save(request: HttpRequest, site: Site | None, form: AssumptionForm, key: str) -> None:
    if site:
        on = today_at(site)
    else:
        on = timezone.localdate()
    values = {name: form.cleaned_data[name] for name in ("value", "origin", "note")}
    actions.assume(by=request.user, site=site, key=key, on=on, **values)
    messages.success(request, f"Set: {form.one.name}.")


# -- at one site -----------------------------------------------------------------------------------


@access.for_site(access.READ)
@require_safe
def site_list(request: HttpRequest, site: Site) -> HttpResponse:
    plan = plan_of(site)
    context = {
        **frame(request, site, BY_SLUG["capacity"], plan),
        "groups": grouped(plan.numbers),
        "uses": uses(plan),
    }
    return render(request, "assumptions/site.html", context)


@access.for_site(access.EDIT)
@require_http_methods(["GET", "HEAD", "POST"])
def site_one(request: HttpRequest, site: Site, key: str) -> HttpResponse:
    plan = plan_of(site)
    one = _one(plan.numbers, key)
    form = AssumptionForm(request.POST or None, one=one, facts=plan.facts)
    if request.method == "POST" and form.is_valid():
        _save(request, site, form, key)
        return redirect("assumptions", site.customer.code, site.code)
    around = frame(request, site, BY_SLUG["capacity"], plan)
    context = {
        **around,
        "one": one,
        "form": form,
        "bad": form if form.errors else None,
        "listed": listed()[key],
    }
    return render(request, "assumptions/site_one.html", context, status=422 if form.errors else 200)


@access.for_site(access.EDIT)
@require_POST
def site_back(request: HttpRequest, site: Site, key: str) -> HttpResponse:
    actions.assume_no_more(by=request.user, site=site, key=key)
    return redirect("assumptions", site.customer.code, site.code)


# -- for the whole house ---------------------------------------------------------------------------


@access.for_house
@require_safe
def house_list(request: HttpRequest) -> HttpResponse:
    return render(request, "assumptions/house.html", {"groups": grouped(_house_numbers())})


@access.for_house
@require_http_methods(["GET", "HEAD", "POST"])
def house_one(request: HttpRequest, key: str) -> HttpResponse:
    one = _one(_house_numbers(), key)
    nobody = SiteFacts(today=timezone.localdate(), site=NoSite())
    form = AssumptionForm(request.POST or None, one=one, facts=nobody)
    if request.method == "POST" and form.is_valid():
        _save(request, None, form, key)
        return redirect("house-assumptions")
    context = {
        "one": one,
        "form": form,
        "bad": form if form.errors else None,
        "listed": listed()[key],
    }
    return render(
        request, "assumptions/house_one.html", context, status=422 if form.errors else 200
    )


@access.for_house
@require_POST
def house_back(request: HttpRequest, key: str) -> HttpResponse:
    actions.assume_no_more(by=request.user, site=None, key=key)
    return redirect("house-assumptions")
