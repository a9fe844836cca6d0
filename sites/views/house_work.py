"""What the house asks for at every site beyond the catalogue: its own steps and checks."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from planner.catalogue.assumptions import Numbers
from planner.record.facts import HouseCheck, HouseStep
from planner.stages import own
from planner.stages.conditions import WHERE
from planner.stages.entries import STAGES, CheckEntry, Entry
from planner.stages.results import AskedBy
from sites.access import door as access
from sites.actions import house_work as actions
from sites.actions import once
from sites.actions.records import Saved
from sites.forms.house_work import FIELDS, WorkForm
from sites.loading import read_house
from sites.models import HouseWork
from sites.models.work import WorkKind
from sites.pages import history
from sites.pages.conditions import holding
from sites.pages.overtaken import merged_words, told


@dataclass
class Line:
    """A step or check that the house asks for, as listed."""

    pk: int
    entry: Entry
    where: str
    sites: int
    timed: bool

    @property
    def is_check(self) -> bool:
        return isinstance(self.entry, CheckEntry)

    @property
    def title(self) -> str:
        return own.title_of(self.entry)


@access.for_house
@require_safe
def work(request: HttpRequest) -> HttpResponse:
    facts = read_house()
    asked: list[HouseStep | HouseCheck] = [*facts.house_steps, *facts.house_checks]
    sites = holding(one.when for one in asked)
    book = own.book_for(facts, Numbers())
    lines: dict[int, list[Line]] = {stage.number: [] for stage in STAGES}
    for one in asked:
        key = own.key_of(one, AskedBy.HOUSE)
        entry: Entry = book.checks[key] if key in book.checks else book.steps[key]
        timed = isinstance(one, HouseStep) and own.three_of(one) is not None
        lines[entry.stage].append(
            Line(one.id, entry, WHERE.get(one.when, one.when), sites.get(one.when, 0), timed)
        )
    context = {
        "stages": [
            (stage, sorted(lines[stage.number], key=lambda line: line.entry.number))
            for stage in STAGES
            if lines[stage.number]
        ],
        "ended": HouseWork.objects.exclude(ended_at=None),
        "wishes": [(wish[2], *own.told(wish, facts)) for wish in own.impossible(facts)],
        "usual": Numbers()["stages.own-step-minutes"],
    }
    return render(request, "house/work.html", context)


@access.for_house
@require_http_methods(["GET", "HEAD", "POST"])
def add(request: HttpRequest, what: str) -> HttpResponse:
    if not WorkKind.holds(what):
        raise Http404
    form = WorkForm(request.POST or None, what=what, facts=read_house())
    if request.method == "POST":
        made = once.take(
            once.Sent(request.user, f"house {what}", 0, request.POST),
            valid=form.is_valid,
            make=lambda: actions.add_work(by=request.user, what=what, values=form.values()),
        )
        if made is not None:
            messages.success(
                request, f"Asked for from now on: {HouseWork.objects.get(pk=made.record)}."
            )
            return redirect("house-work")
    return _form_page(request, form, what)


@access.for_house
@require_http_methods(["GET", "HEAD", "POST"])
def change(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(HouseWork.objects.select_related("ownstep", "changed_by"), pk=pk)
    form = WorkForm(request.POST or None, what=found.what, facts=read_house(), work=found)
    if request.method == "POST" and form.is_valid():
        saved = actions.change_work(
            by=request.user, pk=pk, opened_at=form.opened_at, values=form.values()
        )
        if saved.clashes:
            return _overtaken(request, form, saved)
        if saved.merged:
            messages.info(request, merged_words(form, saved))
        messages.success(request, f"Saved: {saved.record}.")
        return redirect("house-work")
    return _form_page(request, form, found.what, found)


def _form_page(
    request: HttpRequest,
    form: WorkForm,
    what: str,
    found: HouseWork | None = None,
    status: int = 200,
    **more,
) -> HttpResponse:
    if form.errors:
        bad = form
    else:
        bad = None
    if found:
        lines = history.of_house_work(found, FIELDS[what], form.facts)
    else:
        lines = []
    context = {"form": form, "what": what, "work": found, "lines": lines, "bad": bad, **more}
    return render(request, "house/work_one.html", context, status=422 if bad else status)


def _overtaken(request: HttpRequest, form: WorkForm, saved: Saved) -> HttpResponse:
    """Somebody saved the same field meanwhile: theirs is told, and nothing of one's own is lost."""
    again = form.with_theirs(saved.record, saved.merged)
    again.is_valid()
    clashes = told(again, saved)
    return _form_page(request, again, saved.record.what, saved.record, 409, clashes=clashes)


@access.for_house
@require_http_methods(["GET", "HEAD", "POST"])
def stop(request: HttpRequest, pk: int) -> HttpResponse:
    """Says at how many sites it is answered or done, and asks once more."""
    found = get_object_or_404(HouseWork, pk=pk)
    if request.method == "POST":
        actions.stop_asking(by=request.user, pk=pk)
        messages.success(request, f"No longer asked for: {found}.")
        return redirect("house-work")
    return render(request, "house/stop.html", {"work": found, "sites": actions.sites_with(found)})


@access.for_house
@require_POST
def again(request: HttpRequest, pk: int) -> HttpResponse:
    get_object_or_404(HouseWork, pk=pk)
    found = actions.ask_again(by=request.user, pk=pk)
    messages.success(request, f"Asked for again: {found}.")
    return redirect("house-work")
