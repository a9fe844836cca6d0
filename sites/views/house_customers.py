"""Customers of the house: who leads them, how much room their proofs take."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import BigIntegerField, Count, OuterRef, Prefetch, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from planner.record.choices import Role
from sites.access import door as access
from sites.actions.customers import change_customer
from sites.actions.records import Saved
from sites.forms.house import HouseCustomerForm
from sites.models import Customer, Membership, Proof, Site
from sites.pages.overtaken import merged_words, told
from sites.web.journal import note

A_PAGE = 50
MIB = 1024 * 1024


@access.for_house
@require_safe
def customers(request: HttpRequest) -> HttpResponse:
    """All customers. For htmx only the list, while somebody types."""
    q = request.GET.get("q", "").strip()[:100]
    found = _told(Customer.objects.order_by("name", "pk"))
    if q:
        found = found.filter(
            Q(name__icontains=q) | Q(code__icontains=q) | Q(reference__icontains=q)
        )
    page = Paginator(found, A_PAGE).get_page(request.GET.get("page"))
    for one in page.object_list:
        one.room, one.used = _room(one), round(one.proofs / MIB, 1)
    context = {"page": page, "q": q}
    if request.htmx:
        template = "house/customers/_list.html"
    else:
        template = "house/customers/list.html"
    return render(request, template, context)


def _told(found: QuerySet[Customer]) -> QuerySet[Customer]:
    """With what the list tells of each, in a fixed number of queries."""
    sites = Site.objects.filter(customer=OuterRef("pk"), removal=None).values("customer")
    members = Membership.objects.filter(customer=OuterRef("pk"), person__is_active=True).values(
        "customer"
    )
    proofs = Proof.objects.filter(site__customer=OuterRef("pk")).values("site__customer")
    leads = Membership.objects.filter(role=Role.LEAD, person__is_active=True).select_related(
        "person"
    )
    return found.annotate(
        sites_there=_number(sites.annotate(n=Count("pk"))),
        members_there=_number(members.annotate(n=Count("pk"))),
        proofs=_number(proofs.annotate(n=Sum("size"))),
    ).prefetch_related(Prefetch("memberships", queryset=leads, to_attr="leads"))


def _number(counted: QuerySet) -> Coalesce:
    return Coalesce(Subquery(counted.values("n"), output_field=BigIntegerField()), 0)


def _room(customer: Customer) -> int:
    """How many MiB of proofs a customer may keep."""
    return customer.proof_mib or settings.PROOF_QUOTA_MIB


@access.for_house
@require_http_methods(["GET", "HEAD", "POST"])
def customer(request: HttpRequest, customer: str) -> HttpResponse:
    """Changes a customer. What its members do there, its own page shows."""
    found = get_object_or_404(_told(Customer.objects), code=customer)
    own = {field: getattr(found, field) for field in HouseCustomerForm().fields}
    form = HouseCustomerForm(request.POST or None, customer=found, initial=own)
    if request.method == "POST" and form.is_valid():
        saved = change_customer(
            by=request.user, customer=found, opened_at=form.opened_at, values=form.values()
        )
        if saved.clashes:
            again = form.with_theirs(saved.record, saved.merged)
            return _one(request, found, again, 409, clashes=told(again, saved))
        _say_saved(request, found, form, saved)
        return redirect("house-customers")
    return _one(request, found, form, 422 if form.errors else 200)


def _one(
    request: HttpRequest, found: Customer, form: HouseCustomerForm, status: int, **more
) -> HttpResponse:
    context = {
        "customer": found,
        "form": form,
        "used": round(found.proofs / MIB, 1),
        "room": _room(found),
        "house_room": settings.PROOF_QUOTA_MIB,
        "bad": form if form.errors else None,
        **more,
    }
    return render(request, "house/customers/customer.html", context, status=status)


def _say_saved(
    request: HttpRequest, before: Customer, form: HouseCustomerForm, saved: Saved
) -> None:
    room = saved.record.proof_mib
    if room != before.proof_mib:
        note("room for proofs changed", by=request.user, customer=before, mib=room)
    if saved.merged:
        messages.info(request, merged_words(form, saved))
    messages.success(request, "Saved.")
