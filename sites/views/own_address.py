"""One's own address: whether it is proven, and changing it."""

from __future__ import annotations

from allauth.account.decorators import reauthentication_required
from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from sites.actions import own_address as actions
from sites.actions.stages import Refused
from sites.forms.people import AddressForm
from sites.web import devices, sessions
from sites.web import mail as letters


@login_required
@reauthentication_required
@require_http_methods(["GET", "HEAD", "POST"])
def address(request: HttpRequest) -> HttpResponse:
    """Asks for a letter to an address, new or present. Takes the password or the second factor first."""
    if request.user.has_address:
        given = {"email": request.user.email}
    else:
        given = {}
    form = AddressForm(request.POST or None, initial=given)
    if request.method == "POST" and settings.SENDS_MAIL and form.is_valid():
        return _ask(request, form.cleaned_data["email"])
    context = {"form": form, "bad": form if form.errors else None}
    return render(request, "door/address.html", context, status=422 if form.errors else 200)


def _ask(request: HttpRequest, email: str) -> HttpResponse:
    try:
        secret = actions.ask(by=request.user, email=email)
    except Refused as error:
        messages.error(request, str(error))
        return redirect("you-address")
    letters.send_address_letter(request, email, secret)
    # The same words whoever has the address, and whether or not the letter left.
    messages.success(
        request,
        f"A letter goes to {email}. Open the address in it in this browser, within three days.",
    )
    return redirect("you")


@never_cache
@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def proof(request: HttpRequest, secret: str) -> HttpResponse:
    """The letter's secret came back. Looking changes nothing; the button does."""
    letter = actions.under_way(request.user, secret)
    if request.method != "POST" or letter is None:
        return render(
            request, "door/address_proof.html", {"letter": letter}, status=200 if letter else 410
        )
    try:
        before = actions.prove(by=request.user, secret=secret)
    except Refused as error:
        messages.error(request, str(error))
        return redirect("you")
    sessions.keep(request, request.user)
    if before and before != request.user.email:
        letters.tell_of_new_address(request.user, before)
    messages.success(request, f"{request.user.email} is proven to be yours.")
    response = redirect("you")
    devices.remember(request, response, request.user)
    return response
