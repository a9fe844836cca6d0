"""People of the house: who has an account, what opens to them, and what house staff do about it."""

from __future__ import annotations

import functools
from collections.abc import Callable

from allauth.account.decorators import reauthentication_required
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from sites.access import door as access
from sites.access import factors
from sites.actions import once
from sites.actions import people as actions
from sites.actions.invitations import invite as make_invitation
from sites.actions.invitations import withdraw
from sites.actions.stages import Refused
from sites.forms.house import GivenAddressForm, NameForm, StaffForm
from sites.models import Invitation, Person
from sites.viewing import invitations
from sites.web import sessions as kept

A_PAGE = 50


@access.for_house
@require_safe
def people(request: HttpRequest) -> HttpResponse:
    """Everybody with an account. For htmx only the list, while somebody types."""
    q = request.GET.get("q", "").strip()[:100]
    found = factors.with_factors(Person.objects).order_by("name", "email")
    if q:
        found = found.filter(Q(name__icontains=q) | Q(email__icontains=q))
    pages = Paginator(found.prefetch_related("memberships__customer"), A_PAGE)
    standing = Invitation.objects.standing(timezone.now()).filter(customer=None)
    context = {
        "page": pages.get_page(request.GET.get("page")),
        "q": q,
        "invitations": standing.select_related("inviter"),
    }
    if request.htmx:
        template = "house/people/_list.html"
    else:
        template = "house/people/list.html"
    return render(request, template, context)


@access.for_house
@reauthentication_required
@require_http_methods(["GET", "HEAD", "POST"])
def invite(request: HttpRequest) -> HttpResponse:
    """Offers somebody to be house staff: they are once they accept."""
    form = StaffForm(request.POST or None)
    if request.method == "POST" and _invited(request, form):
        return redirect("house-people")
    context = {"form": form, "bad": form if form.errors else None}
    return render(request, "house/people/invite.html", context, status=422 if form.errors else 200)


def _invited(request: HttpRequest, form: StaffForm) -> bool:
    """Invites, and sends the letter; pressed twice it is one invitation."""
    sent = once.Sent(request.user, "staff", 0, request.POST)
    secret = sent.secret
    try:
        made = once.take(
            sent,
            valid=form.is_valid,
            make=lambda: make_invitation(
                by=request.user, customer=None, role="staff", secret=secret, **form.cleaned_data
            )[0],
        )
    except Refused as error:
        form.add_error(None, str(error))
        return False
    if made is None:
        return False
    invitation = Invitation.objects.get(pk=made.record)
    invitations.send(request, invitation, secret, again=made.before)
    return True


@access.for_house
@require_POST
def take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Takes an invitation to the house back."""
    found = get_object_or_404(Invitation, pk=pk, customer=None)
    withdraw(by=request.user, invitation=found)
    messages.success(request, f"The invitation to {found.email} opens nothing any more.")
    return redirect("house-people")


# -- one person ------------------------------------------------------------------------------------


@access.for_house
@require_safe
def person(request: HttpRequest, pk: int) -> HttpResponse:
    return _page(request, _found(pk))


def _found(pk: int) -> Person:
    return get_object_or_404(factors.with_factors(Person.objects), pk=pk)


def _page(request: HttpRequest, found: Person, status: int = 200, **forms) -> HttpResponse:
    if found.has_address:
        present = {"email": found.email}
    else:
        present = {}
    context = {
        "person": found,
        "own": found.pk == request.user.pk,
        "memberships": found.memberships.select_related("customer").order_by("customer__name"),
        "factor": factors.has_factor(found),
        "wanted": factors.wants_factor(found),
        "sessions": kept.sessions_of(found, request),
        "without_lead": actions.without_lead_after(found),
        "name_form": forms.get("name_form") or NameForm(initial={"name": found.name}),
        "address_form": forms.get("address_form")
        or GivenAddressForm(person=found, initial=present),
        "bad": next(iter(forms.values()), None),
    }
    return render(request, "house/people/person.html", context, status=status)


@access.for_house
@require_POST
def name(request: HttpRequest, pk: int) -> HttpResponse:
    found = _found(pk)
    form = NameForm(request.POST)
    if not form.is_valid():
        return _page(request, found, 422, name_form=form)
    actions.change_name(by=request.user, person=found, **form.cleaned_data)
    messages.success(request, "Saved.")
    return redirect("house-person", pk)


@access.for_house
@require_POST
@reauthentication_required
def address(request: HttpRequest, pk: int) -> HttpResponse:
    found = _found(pk)
    form = GivenAddressForm(request.POST, person=found)
    if not form.is_valid():
        return _page(request, found, 422, address_form=form)
    return _done(
        request,
        found,
        functools.partial(actions.change_address, **form.cleaned_data),
        f"The address is {form.cleaned_data['email']} now, not proven yet.",
    )


@access.for_house
@require_POST
@reauthentication_required
def end(request: HttpRequest, pk: int) -> HttpResponse:
    found = _found(pk)
    return _done(request, found, actions.end_account, f"The account of {found} is ended.")


@access.for_house
@require_POST
@reauthentication_required
def open_again(request: HttpRequest, pk: int) -> HttpResponse:
    found = _found(pk)
    return _done(request, found, actions.open_account, f"The account of {found} is open again.")


@access.for_house
@require_POST
@reauthentication_required
def not_staff(request: HttpRequest, pk: int) -> HttpResponse:
    found = _found(pk)
    return _done(request, found, actions.end_staff, f"{found} is no longer house staff.")


@access.for_house
@require_POST
@reauthentication_required
def lost_factor(request: HttpRequest, pk: int) -> HttpResponse:
    found = _found(pk)
    said = f"The second factor of {found} is taken away, and every session ended. They are told."
    return _done(request, found, actions.remove_lost_factor, said)


@access.for_house
@require_POST
@reauthentication_required
def let_in(request: HttpRequest, pk: int) -> HttpResponse:
    """A link for somebody whom others' wrong tries shut out."""
    found = _found(pk)
    try:
        secret = actions.let_in(by=request.user, person=found)
    except Refused as error:
        messages.error(request, str(error))
    else:
        link = request.build_absolute_uri(reverse("let-in", args=[secret]))
        messages.warning(
            request,
            f"Hand this link to {found} yourself: it is shown only now, holds for an hour and works once. It signs "
            f"nobody in; their password is asked for. {link}",
        )
    return redirect("house-person", pk)


@access.for_house
@require_POST
def end_sessions(request: HttpRequest, pk: int) -> HttpResponse:
    found = _found(pk)
    if found.pk == request.user.pk:
        return redirect("you-sessions")  # one's own page leaves this session open
    return _done(request, found, actions.end_all_sessions, f"{found} is signed out everywhere.")


@access.for_house
@require_POST
def end_session(request: HttpRequest, pk: int, session: int) -> HttpResponse:
    found = _found(pk)
    if not actions.end_session(by=request.user, person=found, pk=session):
        raise Http404
    messages.success(request, "That session is ended.")
    return redirect("house-person", pk)


def _done(request: HttpRequest, found: Person, action: Callable, said: str) -> HttpResponse:
    """Does it and says so, or says why not."""
    try:
        action(by=request.user, person=found)
    except Refused as error:
        messages.error(request, str(error))
    else:
        messages.success(request, said)
    return redirect("house-person", found.pk)
