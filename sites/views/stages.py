"""10 Stages: a stage with its checks and steps, an answer, a signature."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from planner.chapters import BY_NUMBER, BY_SLUG
from planner.plan import Plan
from planner.stages import SiteCheck, Stage
from sites import access
from sites.actions import stages as actions
from sites.forms.fields import PASSWORD_LIKE
from sites.models import Answer, Site
from sites.standing import plan_of
from sites.workbook import frame


def _stage(plan: Plan, number: int) -> Stage:
    found = plan.stages.stage(number)
    if found is None:
        raise Http404
    return found


def _check(plan: Plan, key: str) -> SiteCheck:
    found = plan.stages.checks.get(key)
    if found is None:
        raise Http404
    return found


@access.for_site(access.READ)
@require_safe
def stage(request: HttpRequest, site: Site, number: int) -> HttpResponse:
    plan = plan_of(site)
    context = {**frame(request, site, BY_SLUG["stages"], plan), "stage": _stage(plan, number)}
    return render(request, "stages/stage.html", context)


@access.for_site(access.READ, write=access.EDIT)
@require_http_methods(["GET", "HEAD", "POST"])
def answer(request: HttpRequest, site: Site, key: str) -> HttpResponse:
    """One check: what it asks, what was answered so far, and a new answer."""
    plan = plan_of(site)
    check = _check(plan, key)
    refused, proof = "", request.POST.get("proof", "")[:4000]
    if request.method == "POST":
        try:
            if PASSWORD_LIKE.search(proof):
                raise actions.Refused("This looks like a password. Say where it is kept, never what it is.")
            actions.answer_check(
                by=request.user, role=request.access.role, site=site, check=check,
                state=request.POST.get("state", ""), proof=proof, seen=request.POST.get("seen", ""),
            )  # fmt: skip
            messages.success(request, f"{check.number} answered.")
            return redirect("stage", site.customer.code, site.code, check.stage)
        except actions.Refused as error:
            refused = str(error)
    history = Answer.objects.filter(site=site, check_key=key).select_related("by")[:50]
    context = {
        **frame(request, site, BY_SLUG["stages"], plan), "check": check, "history": history, "refused": refused,
        "bad": refused, "proof": proof,
        "chosen": request.POST.get("state", ""), "lives_in": BY_NUMBER.get(check.chapter),
    }  # fmt: skip
    return render(request, "stages/check.html", context, status=422 if refused else 200)


@access.for_site(access.LEAD)
@require_POST
def sign(request: HttpRequest, site: Site, number: int) -> HttpResponse:
    plan = plan_of(site)
    found = _stage(plan, number)
    try:
        keys = [check.key for check in found.checks]
        actions.sign_gate(by=request.user, site=site, gate=found.gate, checks=keys, fingerprint=plan.fingerprint)
        messages.success(request, f"Gate {number} is signed.")
    except actions.Refused as error:
        messages.error(request, f"Gate {number} cannot be signed. {error}")
    return redirect("stage", site.customer.code, site.code, number)
