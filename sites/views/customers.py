"""0 Customer: its sites and its members."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import F
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from sites import access
from sites.actions import customers as actions
from sites.actions import once
from sites.actions import proofs as proof_actions
from sites.actions.records import bring_back, make_site
from sites.forms.customers import CustomerForm, MemberForm, RoleForm, SiteForm
from sites.letters import invite
from sites.models import Customer, Person, Removal


def _page(request: HttpRequest, customer: Customer, status: int = 200, **forms) -> HttpResponse:
    own = {name: getattr(customer, name) for name in ("name", "reference", "note")}
    context = {
        "customer": customer, "access": request.access, "sites": customer.sites.filter(removal=None),
        "proof_room": proof_actions.room_of(customer),
        "removals": Removal.objects.filter(site__customer=customer, site__removal_id=F("pk"), undone_at=None),
        "members": [(one, RoleForm(initial={"role": one.role}, auto_id=f"role-{one.pk}-%s"))
                    for one in customer.memberships.select_related("person")],
        "site_form": forms.get("site_form") or SiteForm(customer=customer),
        "member_form": forms.get("member_form") or MemberForm(),
        "own_form": forms.get("own_form") or CustomerForm(initial=own, customer=customer, changing=True),
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
    if request.method == "POST":
        made = once.take(
            once.Sent(request.user, "customer", 0, request.POST), valid=form.is_valid,
            make=lambda: actions.make_customer(by=request.user, values=form.cleaned_data),
        )  # fmt: skip
        if made is not None:
            return redirect("customer", get_object_or_404(Customer, pk=made.record).code)
    status = 422 if form.errors else 200
    return render(request, "customer_add.html", {"form": form, "bad": form if form.errors else None}, status=status)


@access.for_customer(access.EDIT)
@require_POST
def add_site(request: HttpRequest, customer: Customer) -> HttpResponse:
    form = SiteForm(request.POST, customer=customer)
    made = once.take(
        once.Sent(request.user, "site", customer.pk, request.POST), valid=form.is_valid,
        make=lambda: make_site(by=request.user, customer=customer, **form.cleaned_data),
    )  # fmt: skip
    if made is None:
        return _page(request, customer, 422, site_form=form)
    site = once.still_there(made, customer.sites.filter(removal=None))
    if site is None:
        messages.warning(request, once.GONE)
        return redirect("customer", customer.code)
    return redirect("chapter", customer.code, site.code, "brief")


@access.for_customer(access.LEAD)
@require_POST
def change(request: HttpRequest, customer: Customer) -> HttpResponse:
    form = CustomerForm(request.POST, customer=customer, changing=True)
    if not form.is_valid():
        return _page(request, customer, 422, own_form=form)
    actions.change_customer(by=request.user, customer=customer, values=form.cleaned_data)
    messages.success(request, "Saved.")
    return redirect("customer", customer.code)


@access.for_customer(access.LEAD)
@require_POST
def members(request: HttpRequest, customer: Customer) -> HttpResponse:
    """Makes somebody a member; somebody new is sent a link to choose a password."""
    form = MemberForm(request.POST)
    if not form.is_valid():
        return _page(request, customer, 422, member_form=form)
    role = form.cleaned_data["role"]
    person = actions.set_member(customer=customer, **form.cleaned_data)
    messages.success(request, f"{person} is {role} here now.")
    if not person.password or not person.has_usable_password():
        _say_how_to_start(request, person, customer, role)
    return redirect("customer", customer.code)


def _say_how_to_start(request: HttpRequest, person: Person, customer: Customer, role: str) -> None:
    link = invite(request, person, customer, role)
    if link:
        why = "No letter could leave this house."
        how = f"Give {person} this address yourself; it holds for three days and works once: {link}"
        messages.warning(request, f"{why} {how}")
    else:
        messages.info(request, f"A letter with a link to choose a password is on its way to {person.email}.")


@access.for_customer(access.LEAD)
@require_POST
def member(request: HttpRequest, customer: Customer, pk: int) -> HttpResponse:
    """Changes what one member may do, or ends the membership."""
    found = get_object_or_404(customer.memberships.select_related("person"), pk=pk)
    form = RoleForm(request.POST)
    if form.is_valid():
        role = form.cleaned_data["role"]
        actions.set_member(customer=customer, email=found.person.email, role=role)
        said = f"{found.person} is {role} here now." if role else f"{found.person} is no longer a member."
        messages.success(request, said)
        if access.role_at(request.user, customer) == "":
            return redirect("home")
    return redirect("customer", customer.code)


@access.for_customer(access.LEAD)
@require_POST
def bring_site_back(request: HttpRequest, customer: Customer, removal: int) -> HttpResponse:
    found = get_object_or_404(Removal, pk=removal, site__customer=customer, undone_at=None)
    bring_back(by=request.user, removal=found)
    messages.success(request, f"Brought back: {found.what}.")
    return redirect("customer", customer.code)
