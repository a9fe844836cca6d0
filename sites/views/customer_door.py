"""How the members of one customer come in: whether each must have a second factor."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from sites.access import door as access
from sites.actions import people as actions
from sites.actions.stages import Refused
from sites.models import Customer


@access.for_customer(access.LEAD)
@require_POST
def factor(request: HttpRequest, customer: Customer) -> HttpResponse:
    wanted = request.POST.get("wanted") == "yes"
    try:
        actions.ask_for_factor(by=request.user, customer=customer, wanted=wanted)
    except Refused as error:
        messages.error(request, str(error))
    else:
        if wanted:
            said = "Every member needs a second factor now."
        else:
            said = "A second factor is up to each member now."
        messages.success(request, said)
    return redirect("customer", customer.code)
