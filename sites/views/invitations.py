"""Invitations: what a lead does with them, and the page that the secret opens."""

from __future__ import annotations

from allauth.account.utils import perform_login
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from sites.access import door as access
from sites.actions import invitations as actions
from sites.actions import once
from sites.actions.invitations import Standing
from sites.actions.stages import Refused
from sites.forms.people import AccountForm
from sites.models import Customer, Invitation
from sites.viewing.invitations import send


@access.for_customer(access.LEAD)
@require_POST
def again(request: HttpRequest, customer: Customer, pk: int) -> HttpResponse:
    """Sends a new secret in place of the one before."""
    old = get_object_or_404(customer.invitations, pk=pk, accepted_at=None)
    sent = once.Sent(request.user, "again", old.pk, request.POST)
    secret = sent.secret
    try:
        made = once.take(
            sent,
            valid=lambda: True,
            make=lambda: actions.invite(
                by=request.user,
                customer=customer,
                email=old.email,
                role=old.role,
                name=old.name,
                secret=secret,
            )[0],
        )
    except Refused as error:
        messages.error(request, str(error))
        return redirect("customer", customer.code)
    if made is not None:
        invited = customer.invitations.get(pk=made.record)
        send(request, invited, secret, again=made.before)
    return redirect("customer", customer.code)


@access.for_customer(access.LEAD)
@require_POST
def withdraw(request: HttpRequest, customer: Customer, pk: int) -> HttpResponse:
    found = get_object_or_404(customer.invitations, pk=pk)
    actions.withdraw(by=request.user, invitation=found)
    messages.success(request, f"The invitation to {found.email} opens nothing any more.")
    return redirect("customer", customer.code)


@never_cache
@require_http_methods(["GET", "HEAD"])
def invitation(request: HttpRequest, secret: str) -> HttpResponse:
    """What is offered, for whoever holds the secret. Looking changes nothing: mail programs look too."""
    found = actions.offered(secret)
    if found is None:
        return _page(request, {}, status=410)
    if request.user.is_authenticated:
        form = None
    else:
        form = _account_form(found)
    return _page(request, {"invitation": found, "secret": secret, "form": form})


@never_cache
@login_required
@require_POST
def accept(request: HttpRequest, secret: str) -> HttpResponse:
    try:
        found = actions.accept(by=request.user, secret=secret)
    except Refused:
        return _page(request, {}, status=410)
    return _welcome(request, found)


@never_cache
@sensitive_post_parameters("password", "again")
@require_POST
def come_in(request: HttpRequest, secret: str) -> HttpResponse:
    """Makes an account with the invited address and accepts."""
    found = actions.offered(secret)
    if found is None:
        return _page(request, {}, status=410)
    if request.user.is_authenticated:
        return redirect("invitation", secret)
    form = _account_form(found, request.POST)
    if form.is_valid():
        values = form.cleaned_data
        try:
            person = actions.come_in(
                secret=secret,
                name=values["name"],
                password=values["password"],
                take_address=values.get("take_address", False),
            )
        except Refused as error:
            form.add_error(None, str(error))
        else:
            perform_login(request, person)
            return _welcome(request, found)
    context = {"invitation": found, "secret": secret, "form": form, "bad": form}
    return _page(request, context, status=422)


def _account_form(found: Invitation, data=None) -> AccountForm:
    unproven = actions.standing_of(found) is Standing.UNPROVEN
    return AccountForm(data, email=found.email, unproven=unproven, initial={"name": found.name})


def _page(request: HttpRequest, context: dict, status: int = 200) -> HttpResponse:
    return render(request, "door/invitation.html", context, status=status)


def _welcome(request: HttpRequest, found: Invitation) -> HttpResponse:
    if found.customer is None:
        messages.success(request, "You are house staff now.")
        return redirect("home")
    messages.success(request, f"You are {found.get_role_display()} at {found.customer} now.")
    return redirect("customer", found.customer.code)
