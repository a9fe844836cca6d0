"""The house's own times for the steps of the catalogue, in place of the catalogue's at every site."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from planner.record.facts import KIND_WORDS, Site, SiteFacts
from planner.stages import own
from planner.stages.entries import STAGES, StepEntry
from planner.stages.reading import read
from sites.access import door as access
from sites.actions import house_work as actions
from sites.forms.house_work import EstimateForm
from sites.models import HouseEstimate
from sites.pages import history


@dataclass(frozen=True)
class Line:
    """A step of the catalogue with its times in minutes, and the house's where it has its own.

    Of a step with a wait they are what hands need beside it."""

    entry: StepEntry
    house: tuple[float, ...]

    @property
    def title(self) -> str:
        return own.title_of(self.entry)

    @property
    def number(self) -> str:
        return f"{self.entry.stage}.{self.entry.number}"

    @property
    def each(self) -> str:
        """What it is done for: ``host``; "" for the site."""
        return KIND_WORDS.get(self.entry.each, "")

    @property
    def catalogue(self) -> tuple[float, ...]:
        if self.entry.wait:
            return self.entry.hands
        return self.entry.minutes

    @property
    def words(self) -> str:
        return f"{self.number} {self.title} {self.entry.key.replace('-', ' ')}".casefold()


def _three(found: HouseEstimate | None) -> tuple[float, ...]:
    if found:
        return (found.least_minutes, found.likely_minutes, found.longest_minutes)
    return ()


@access.for_house
@require_safe
def times(request: HttpRequest) -> HttpResponse:
    asked = request.GET.get("q", "").strip()[:100]
    set_here = {row.step: _three(row) for row in HouseEstimate.objects.all()}
    words = asked.casefold().split()
    found = []
    for stage in STAGES:
        lines = [
            Line(entry, set_here.get(entry.key, ())) for entry in read().by_stage[stage.number][1]
        ]
        lines = [line for line in lines if all(word in line.words for word in words)]
        if lines:
            found.append((stage, lines))
    if request.htmx:
        page = "house/_times.html"
    else:
        page = "house/times.html"
    return render(
        request, page, {"stages": found, "q": asked, "set": sum(map(bool, set_here.values()))}
    )


@access.for_house
@require_http_methods(["GET", "HEAD", "POST"])
def one(request: HttpRequest, key: str) -> HttpResponse:
    entry = read().steps.get(key)
    if entry is None:
        raise Http404
    before = HouseEstimate.objects.filter(step=key).first()
    nobody = SiteFacts(today=timezone.localdate(), site=Site())
    form = EstimateForm(request.POST or None, facts=nobody, times=_three(before), set_before=before)
    line = Line(entry, _three(before))
    if request.method == "POST" and form.is_valid():
        actions.estimate(by=request.user, step=key, values=form.values(), on=timezone.localdate())
        messages.success(request, f"Set: {line.number} {line.title}.")
        return redirect("house-times")
    lines = history.of_house_estimate(key)
    context = {
        "line": line,
        "form": form,
        "before": before,
        "lines": lines,
        "bad": form if form.errors else None,
    }
    return render(request, "house/times_one.html", context, status=422 if form.errors else 200)


@access.for_house
@require_POST
def back(request: HttpRequest, key: str) -> HttpResponse:
    if key not in read().steps:
        raise Http404
    actions.estimate_no_more(by=request.user, step=key)
    messages.success(request, "Back to the catalogue's times.")
    return redirect("house-times")
