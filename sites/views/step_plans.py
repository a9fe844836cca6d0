"""10 Stages: who owns which steps, how long they take here, and what is done before the day."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from planner.record.chapters import BY_SLUG
from planner.stages.readiness import finished
from planner.stages.who import by_stage
from sites.access import door as access
from sites.actions.step_plans import plan_steps, plans_of
from sites.actions.steps import lines_of
from sites.forms import guard
from sites.forms.numbers import whole
from sites.forms.step_plans import StepPlansForm
from sites.models import OwnStep, Site
from sites.pages.standing import plan_of
from sites.pages.workbook import frame


@access.for_site(access.READ, write=access.EDIT)
@require_http_methods(["GET", "HEAD", "POST"])
def step_plans(request: HttpRequest, site: Site) -> HttpResponse:
    """Every step with its owner and times; those that are ticked are given what the form says."""
    plan = plan_of(site)
    done = finished(plan.stages, {key for key, line in lines_of(site).items() if line.done_at})
    stages = by_stage(plan, done)
    numbers = {work.key: work.number for _, found in stages for work in found}
    form = StepPlansForm(request.POST or None, facts=plan.facts)
    ticked = [key for key in request.POST.getlist("step") if key in numbers]
    refused = ""
    if request.method == "POST":
        if not ticked:
            refused = "Tick at least one step."
        elif form.is_valid():
            seen = {key: whole(request.POST.get(f"seen-{key}", "")) for key in ticked}
            made, passed = plan_steps(
                by=request.user, site=site, keys=ticked, values=form.values(), seen=seen
            )
            _told(request, numbers, made, passed)
            return redirect("step-plans", site.customer.code, site.code)
    context = {
        **frame(request, site, BY_SLUG["stages"], plan),
        "stages": stages,
        "form": form,
        "ticked": set(ticked),
        "refused": refused,
        "bad": form if form.errors else bool(refused),
        "seen": _seen(site),
        "unowned": sum(not work.owner for _, found in stages for work in found),
    }
    return render(
        request, "stages/who.html", context, status=422 if refused or form.errors else 200
    )


def _seen(site: Site) -> dict[str, int]:
    """The edit counters of what stands, by the steps' keys."""
    own = OwnStep.objects.filter(site=site, removal=None)
    return {key: row.edits for key, row in plans_of(site).items()} | {
        f"own@{one.anchor}": one.edits for one in own
    }


def _told(
    request: HttpRequest, numbers: dict[str, str], made: list[str], passed: list[str]
) -> None:
    if made:
        messages.success(request, f"Planned: {', '.join(numbers[key] for key in made)}.")
    for key in passed:
        messages.warning(request, f"Passed over: {guard.planned(numbers[key])}")
