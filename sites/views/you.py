"""One's own account, and the sessions it has open."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from sites.access import factors
from sites.actions import people as actions
from sites.web import devices
from sites.web import sessions as kept


@login_required
@require_safe
def you(request: HttpRequest) -> HttpResponse:
    """Name and address, password, second factor, sessions, role at each customer."""
    codes = factors.recovery_codes_left(request.user)
    context = {
        "memberships": request.user.memberships.select_related("customer").order_by(
            "customer__name"
        ),
        "factor": factors.has_factor(request.user),
        "wanted": factors.wants_factor(request.user),
        "owed": factors.owes_factor(request.user),
        "codes": codes,
        "few": codes is not None and codes <= factors.FEW,
        "sessions": len(kept.sessions_of(request.user, request)),
    }
    return render(request, "you.html", context)


@login_required
@require_safe
def sessions(request: HttpRequest) -> HttpResponse:
    context = {
        "sessions": kept.sessions_of(request.user, request),
        "hours": settings.SESSION_IDLE_HOURS,
        "days": settings.SESSION_COOKIE_AGE // 86_400,
    }
    return render(request, "door/sessions.html", context)


@login_required
@require_POST
def end_one(request: HttpRequest, pk: int) -> HttpResponse:
    if not actions.end_session(by=request.user, person=request.user, pk=pk):
        raise Http404
    messages.success(request, "That session is ended.")
    return redirect("you-sessions")


@login_required
@require_POST
def end_others(request: HttpRequest) -> HttpResponse:
    """Ends every session but this one, listed or not."""
    actions.end_all_sessions(by=request.user, person=request.user)
    kept.keep(request, request.user)
    messages.success(request, "Everywhere else you are signed out.")
    response = redirect("you-sessions")
    devices.remember(request, response, request.user)
    return response
