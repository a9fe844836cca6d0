"""0 Customer: its sites and its members."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from sites import access
from sites.actions import customers as actions
from sites.actions.records import make_site
from sites.forms.customers import CustomerForm, MemberForm, SiteForm
from sites.models import Customer


def _page(request: HttpRequest, customer: Customer, status: int = 200, **forms) -> HttpResponse:
    context = {
        "customer": customer, "access": request.access, "sites": customer.sites.filter(removal=None),
        "members": customer.memberships.select_related("person"),
        "site_form": forms.get("site_form") or SiteForm(customer=customer),
        "member_form": forms.get("member_form") or MemberForm(),
        "bad": next((form for form in forms.values() if form), None),
    }  # fmt: skip
    return render(request, "customer.html", context, status=status)


@access.for_customer(access.READ)
@require_safe
def customer(request: HttpRequest, customer: Customer) -> HttpResponse:
    return _page(request, customer)


@access.for_house
@require_http_methods(["GET", "POST"])
def add(request: HttpRequest) -> HttpResponse:
    form = CustomerForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        made = actions.make_customer(by=request.user, values=form.cleaned_data)
        return redirect("customer", made.code)
    status = 422 if form.errors else 200
    return render(request, "customer_add.html", {"form": form, "bad": form if form.errors else None}, status=status)


@access.for_customer(access.EDIT)
@require_POST
def add_site(request: HttpRequest, customer: Customer) -> HttpResponse:
    form = SiteForm(request.POST, customer=customer)
    if not form.is_valid():
        return _page(request, customer, 422, site_form=form)
    site = make_site(by=request.user, customer=customer, **form.cleaned_data)
    return redirect("chapter", customer.code, site.code, "brief")


@access.for_customer(access.LEAD)
@require_POST
def members(request: HttpRequest, customer: Customer) -> HttpResponse:
    form = MemberForm(request.POST)
    if not form.is_valid():
        return _page(request, customer, 422, member_form=form)
    person = actions.set_member(customer=customer, **form.cleaned_data)
    role = form.cleaned_data["role"]
    messages.success(request, f"{person} is {role} here now." if role else f"{person} is no longer a member.")
    return redirect("customer", customer.code)
