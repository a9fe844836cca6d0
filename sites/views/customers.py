"""0 Customer: its sites and its members."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import F
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from sites.access import asker
from sites.access import door as access
from sites.actions import customers as actions
from sites.actions import once
from sites.actions import proofs as proof_actions
from sites.actions.invitations import invite
from sites.actions.records import bring_back, make_site
from sites.actions.stages import Refused
from sites.forms.customers import CustomerForm, RoleForm, SiteForm
from sites.forms.people import InvitationForm
from sites.models import Customer, Membership, Person, Removal
from sites.pages.overtaken import Theirs, merged_words, told
from sites.viewing import invitations
from sites.viewing.making import made_of


def _page(
    request: HttpRequest,
    customer: Customer,
    status: int = 200,
    clashes: list[Theirs] | None = None,
    **forms,
) -> HttpResponse:
    own = {name: getattr(customer, name) for name in ("name", "reference", "note")}
    context = {
        "customer": customer,
        "access": request.access,
        "sites": customer.sites.filter(removal=None),
        "proof_room": proof_actions.room_of(customer),
        "removals": Removal.objects.filter(
            site__customer=customer, site__removal_id=F("pk"), undone_at=None
        ),
        "site_form": forms.get("site_form") or SiteForm(customer=customer),
        "member_form": forms.get("member_form") or InvitationForm(),
        "own_form": forms.get("own_form")
        or CustomerForm(initial=own, customer=customer, changing=True),
        "clashes": clashes,
        "bad": next((form for form in forms.values() if form.errors), None),
        **_members(request, customer),
    }
    return render(request, "customer.html", context, status=status)


def _members(request: HttpRequest, customer: Customer) -> dict:
    """The members, each with the form of what they may do; the invitations under way for whoever leads."""
    members = customer.memberships.select_related("person")
    found: dict = {
        "members": [(one, _role_form(request, one)) for one in members],
        "led": any(one.role == access.LEAD and one.person.is_active for one in members),
    }
    if request.access.may_lead:
        standing = customer.invitations.standing(timezone.now())
        found["invitations"] = standing.select_related("inviter")
    return found


def _role_form(request: HttpRequest, member: Membership) -> RoleForm | None:
    """``None`` for house staff, whom only house staff change."""
    if member.person.house_staff and not request.user.house_staff:
        return None
    return RoleForm(
        initial={"role": member.role}, auto_id=f"role-{member.pk}-%s", whose=member.person
    )


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
            once.Sent(request.user, "customer", 0, request.POST),
            valid=form.is_valid,
            make=lambda: actions.make_customer(by=request.user, values=form.cleaned_data),
        )
        if made is not None:
            return redirect("customer", get_object_or_404(Customer, pk=made.record).code)
    if form.errors:
        status = 422
    else:
        status = 200
    return render(
        request,
        "customer_add.html",
        {"form": form, "bad": form if form.errors else None},
        status=status,
    )


@access.for_customer(access.EDIT)
@require_POST
def add_site(request: HttpRequest, customer: Customer) -> HttpResponse:
    form = SiteForm(request.POST, customer=customer)
    made = made_of(
        form,
        once.Sent(request.user, "site", customer.pk, request.POST),
        lambda: make_site(by=request.user, customer=customer, **form.cleaned_data),
    )
    if made is None:
        return _page(request, customer, 422, site_form=form)
    site = once.still_there(made, customer.sites.filter(removal=None))
    if site is None:
        messages.warning(request, once.GONE)
        return redirect("customer", customer.code)
    asker.now().site = site
    return redirect("chapter", customer.code, site.code, "brief")


@access.for_customer(access.LEAD)
@require_POST
def change(request: HttpRequest, customer: Customer) -> HttpResponse:
    form = CustomerForm(request.POST, customer=customer, changing=True)
    if not form.is_valid():
        return _page(request, customer, 422, own_form=form)
    saved = actions.change_customer(
        by=request.user, customer=customer, opened_at=form.opened_at, values=form.values()
    )
    if saved.clashes:
        again = form.with_theirs(saved.record, saved.merged)
        return _page(request, saved.record, 409, clashes=told(again, saved), own_form=again)
    if saved.merged:
        messages.info(request, merged_words(form, saved))
    messages.success(request, "Saved.")
    return redirect("customer", customer.code)


@access.for_customer(access.LEAD)
@require_POST
def members(request: HttpRequest, customer: Customer) -> HttpResponse:
    """Invites somebody. What is said is the same whoever has the address."""
    form = InvitationForm(request.POST)
    if (
        form.is_valid()
        and customer.memberships.filter(person__email=form.cleaned_data["email"]).exists()
    ):
        form.add_error("email", "This is a member here already: change the role in the list.")
    sent = once.Sent(request.user, "invitation", customer.pk, request.POST)
    secret = sent.secret
    try:
        made = once.take(
            sent,
            valid=form.is_valid,
            make=lambda: invite(
                by=request.user, customer=customer, secret=secret, **form.cleaned_data
            )[0],
        )
    except Refused as error:
        form.add_error(None, str(error))
        made = None
    if made is None:
        return _page(request, customer, 422, member_form=form)
    invitations.send(request, customer.invitations.get(pk=made.record), secret, again=made.before)
    return redirect("customer", customer.code)


@access.for_customer(access.LEAD)
@require_POST
def member(request: HttpRequest, customer: Customer, pk: int) -> HttpResponse:
    """Changes what one member may do, or ends the membership."""
    found = get_object_or_404(customer.memberships.select_related("person", "customer"), pk=pk)
    form = RoleForm(request.POST)
    if form.is_valid():
        try:
            said = _set_role(request.user, found, form.cleaned_data["role"])
        except Refused as error:
            messages.error(request, str(error))
        else:
            messages.success(request, said)
            if access.role_at(request.user, customer) == "":
                return redirect("home")
    return redirect("customer", customer.code)


def _set_role(by: Person, found: Membership, role: str) -> str:
    if role:
        actions.change_role(by=by, member=found, role=role)
        return f"{found.person} is {role} here now."
    actions.end_membership(by=by, member=found)
    return f"{found.person} is no longer a member."


@access.for_customer(access.LEAD)
@require_POST
def bring_site_back(request: HttpRequest, customer: Customer, removal: int) -> HttpResponse:
    found = get_object_or_404(Removal, pk=removal, site__customer=customer)
    bring_back(by=request.user, removal=found)  # pressed twice, it comes back once
    messages.success(request, f"Brought back: {found.what}.")
    return redirect("customer", customer.code)
