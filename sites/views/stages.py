"""10 Stages at a desk: a stage with its steps and checks, an answer, many excused, a signature, readiness."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from planner.plan import Plan
from planner.record.chapters import BY_NUMBER, BY_SLUG
from planner.record.choices import AnswerState
from planner.stages import SiteCheck, Stage
from planner.stages.readiness import by_owner, way_to
from sites.access import door as access
from sites.actions import proofs as proof_actions
from sites.actions import stages as actions
from sites.actions.steps import lines_of
from sites.forms import guard
from sites.forms.numbers import whole
from sites.forms.stages import AnswerForm, ExcuseForm
from sites.models import Answer, Site
from sites.pages import run_sheet as runsheet
from sites.pages.run_sheet import local
from sites.pages.standing import plan_of
from sites.pages.workbook import frame
from sites.viewing.answers import take_answer

HISTORY = 50
SOON = 12  # checks of the quickest way that are shown at once


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
    sheet = runsheet.make(site, plan, _stage(plan, number))
    with local(site) as zone:
        context = {
            **frame(request, site, BY_SLUG["stages"], plan),
            "stage": sheet.stage,
            "sheet": sheet,
            "zone": zone,
            "groups": runsheet.groups(sheet),
            "neighbours": _neighbours(plan, number),
        }
        return render(request, "stages/stage.html", context)


def _neighbours(plan: Plan, number: int) -> tuple[Stage | None, Stage | None]:
    return plan.stages.stage(number - 1), plan.stages.stage(number + 1)


# -- one check -----------------------------------------------------------------------------------


@access.for_site(access.READ, write=access.EDIT)
@require_http_methods(["GET", "HEAD", "POST"])
def answer(request: HttpRequest, site: Site, key: str) -> HttpResponse:
    """One check: what it asks, what was answered so far, and a new answer."""
    plan = plan_of(site)
    check = _check(plan, key)
    more: dict = {}
    status = 200
    if request.method == "POST":
        sent = AnswerForm(request.POST, check=check)
        try:
            made = take_answer(request, site, check, sent)
            said = AnswerState.words_of(made.state)
            messages.success(request, f"{check.number} is answered: {said}.")
            return redirect("stage", site.customer.code, site.code, check.stage)
        except actions.Overtaken as error:
            status, more = 409, {"theirs": error.theirs, "first": guard.ANSWERED}
        except (actions.Refused, proof_actions.Unfit) as error:
            status, more = 422, {"refused": str(error), "box": sent.box}
    history = list(
        Answer.objects.filter(site=site, check_key=key)
        .select_related("by")
        .prefetch_related("proofs")[:HISTORY]
    )
    newest = next((one for one in history if one.newest), None)
    if newest:
        seen = newest.pk
    else:
        seen = 0
    form = AnswerForm(check=check, live=plan.facts.site.live, seen=seen, typed=request.POST)
    context = {
        **frame(request, site, BY_SLUG["stages"], plan),
        "check": check,
        "history": history,
        "bad": status != 200,
        "form": form,
        "disagree": disagreement(history),
        "lives_in": BY_NUMBER.get(check.chapter),
        **more,
    }
    with local(site) as zone:
        return render(request, "stages/check.html", {**context, "zone": zone}, status=status)


def disagreement(history: list[Answer]) -> tuple[Answer, Answer] | None:
    """The newest answer and the one before it, where two people say different things of it."""
    looked = [
        one
        for one in history
        if one.state in (AnswerState.PROVEN, AnswerState.TRUST, AnswerState.FAILED)
    ][:2]
    if len(looked) < 2 or not looked[0].newest:
        return None
    new, old = looked
    yes = {AnswerState.PROVEN: True, AnswerState.TRUST: True, AnswerState.FAILED: False}
    if new.by_id != old.by_id and yes[new.state] != yes[old.state]:
        return (new, old)
    return None


# -- many checks, and the gate -------------------------------------------------------------------


@access.for_site(access.EDIT)
@require_http_methods(["GET", "HEAD", "POST"])
def excuse(request: HttpRequest, site: Site, number: int) -> HttpResponse:
    """Excuses several checks of a stage for one reason. Nothing can be proven of several at once."""
    plan = plan_of(site)
    found = _stage(plan, number)
    sheet = runsheet.make(site, plan, found)
    lines = [
        line
        for line in sheet.lines
        if line.is_check and line.state in (AnswerState.OPEN, AnswerState.FAILED, AnswerState.TRUST)
    ]
    refused, box = "", None
    ticked = request.POST.getlist("check")
    form = ExcuseForm(request.POST if request.method == "POST" else None)
    if form.is_bound:
        seen = {line.one.key: whole(request.POST.get(f"seen-{line.one.key}", "")) for line in lines}
        wanted = [line.one for line in lines if line.one.key in ticked]
        try:
            if not form.is_valid():
                raise actions.Refused(" ".join(form.errors["reason"]))
            made, passed = actions.excuse_many(
                by=request.user,
                role=request.access.role,
                site=site,
                checks=wanted,
                reason=form.cleaned_data["reason"],
                seen=seen,
            )
            messages.success(request, f"Excused: {len(made)} check{'' if len(made) == 1 else 's'}.")
            for words in passed:
                messages.warning(request, f"Passed over: {words}")
            return redirect("stage", site.customer.code, site.code, number)
        except actions.Refused as error:
            refused, box = str(error), form.box
    context = {
        **frame(request, site, BY_SLUG["stages"], plan),
        "stage": found,
        "box": box,
        "lines": lines,
        "refused": refused,
        "ticked": ticked,
        "form": form,
        "bad": refused,
    }
    return render(request, "stages/excuse.html", context, status=422 if refused else 200)


@access.for_site(access.LEAD)
@require_POST
def sign(request: HttpRequest, site: Site, number: int) -> HttpResponse:
    plan = plan_of(site)
    found = _stage(plan, number)
    try:
        keys = [check.key for check in found.checks]
        actions.sign_gate(
            by=request.user, site=site, gate=found.gate, checks=keys, fingerprint=plan.fingerprint
        )
        messages.success(request, f"Gate {number} is signed.")
    except actions.Refused as error:
        messages.error(request, f"Gate {number} cannot be signed. {error}")
    return redirect("stage", site.customer.code, site.code, number)


# -- readiness -----------------------------------------------------------------------------------


@access.for_site(access.READ)
@require_safe
def ready(request: HttpRequest, site: Site) -> HttpResponse:
    """What is open, on trust, failed or excused, by stage and by person, and what opens a gate soonest."""
    plan = plan_of(site)
    kept, live = lines_of(site), plan.facts.site.live
    done = {key for key, line in kept.items() if line.done_at}
    owners = {step.key: step.owner for step in plan.stages.steps.values() if step.owner}
    owners |= {key: str(line.owner) for key, line in kept.items() if line.owner}
    asked = whole(request.GET.get("gate", ""))
    current = plan.stages.stage(asked) or plan.stages.current
    context = {
        **frame(request, site, BY_SLUG["stages"], plan),
        "stages": plan.stages,
        "soon": SOON,
        "way": way_to(plan.stages, current.number, live, done) if current else None,
        "parts": by_owner(plan.stages, live, owners),
        "sorted": [(one, _by_state(one)) for one in plan.stages.stages],
    }
    with local(site) as zone:
        return render(request, "stages/ready.html", {**context, "zone": zone})


def _by_state(found: Stage) -> dict[str, list[SiteCheck]]:
    """A stage's checks that are not proven, by their answer, the worst first."""
    kinds: dict[str, list[SiteCheck]] = {
        state: []
        for state in (AnswerState.FAILED, AnswerState.OPEN, AnswerState.TRUST, AnswerState.EXCUSED)
    }
    for check in found.checks:
        if check.state in kinds:
            kinds[check.state].append(check)
    return {state: checks for state, checks in kinds.items() if checks}
