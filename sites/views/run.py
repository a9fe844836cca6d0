"""Run sheets on a telephone: the list, one step or check at a time, and what is sent from there.

A page sends plain forms and is sent on; the page's own script asks for JSON and may send the same thing
again: it is done once. What somebody else has done meanwhile is never overwritten: 409, with both shown.
"""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import require_http_methods, require_safe

from planner.record.choices import AnswerState
from planner.stages import SiteCheck, Stage
from sites.access import door as access
from sites.actions import proofs as proof_actions
from sites.actions import stages as actions
from sites.actions import steps as step_actions
from sites.actions.presence import be_seen
from sites.forms import guard
from sites.forms.stages import AnswerForm, StepForm, new_token
from sites.models import Person, Site
from sites.models.stages import StepMove
from sites.pages import run_sheet as runsheet
from sites.pages.run_sheet import Line, RunSheet, local
from sites.pages.standing import plan_of
from sites.viewing.answers import take_answer
from sites.web import offline as kept

CHAPTER = 10
LATER = 30  # seconds until a device sends again what could not be kept just now


def _stage(plan, number: int) -> Stage:
    found = plan.stages.stage(number)
    if found is None:
        raise Http404
    return found


def _sheet(site: Site, number: int) -> RunSheet:
    plan = plan_of(site)
    return runsheet.make(site, plan, _stage(plan, number))


def _context(
    request: HttpRequest, site: Site, sheet: RunSheet, line: Line | None = None, **more
) -> dict:
    before, after = sheet.beside(line) if line else (None, None)
    return {
        "site": site,
        "sheet": sheet,
        "stage": sheet.stage,
        "line": line,
        "before": before,
        "after": after,
        "access": request.access,
        "takers": step_actions.takers(site, request.user) if request.access.may_edit else [],
        **more,
    }


@access.for_site(access.READ)
@require_safe
def sheet(request: HttpRequest, site: Site, number: int) -> HttpResponse:
    """The list of a stage's steps and checks."""
    be_seen(by=request.user, site=site, chapter=CHAPTER)
    with local(site) as zone:
        return render(
            request, "run/page.html", _context(request, site, _sheet(site, number), zone=zone)
        )


@access.for_site(access.READ)
@require_safe
@gzip_page  # a large stage is a megabyte of much the same words
def whole(request: HttpRequest, site: Site, number: int) -> HttpResponse:
    """The run sheet with every step and check of its stage in one page, for a device that may lose its line; 204
    while the site stands at the ``?counter=`` that the device knows. Where the browser lets it, the device keeps
    this page and opens it in the place of each of the run sheet's addresses."""
    be_seen(by=request.user, site=site, chapter=CHAPTER)
    if request.GET.get("counter") == str(site.counter):
        return HttpResponse(status=204)
    with local(site) as zone:
        found = _sheet(site, number)
        context = _context(request, site, found, zone=zone)
        context["pages"] = [(line, *found.beside(line)) for line in found.lines]
        context["messages"] = ()  # they are for a page that somebody looks at
        return kept.may_stay(request, render(request, "run/whole.html", context))


@access.for_site(access.READ, write=access.EDIT)
@require_http_methods(["GET", "HEAD", "POST"])
def item(request: HttpRequest, site: Site, number: int, kind: str, key: str) -> HttpResponse:
    """One step or check; a POST answers the check or moves the step on."""
    found = _sheet(site, number)
    line = found.line(kind, key)
    if line is None:
        return _gone(request, site)
    if request.method == "POST":
        if isinstance(line.one, SiteCheck):
            return _answer(request, site, found, line, line.one)
        return _move(request, site, found, line)
    be_seen(by=request.user, site=site, chapter=CHAPTER)
    return _page(request, site, found, line)


def _gone(request: HttpRequest, site: Site) -> HttpResponse:
    """The step or check is not asked for here; what was sent while it still was counts as sent."""
    token = request.POST.get("token", "")
    if token:
        before = actions.sent_before(by=request.user, site=site, token=token)
    else:
        before = None
    if before is None:
        raise Http404
    return JsonResponse(
        {"said": "It was answered, and is no longer asked here.", "seen": before.pk}
    )


def _page(
    request: HttpRequest, site: Site, found: RunSheet, line: Line, status: int = 200, **more
) -> HttpResponse:
    with local(site) as zone:
        context = _context(request, site, found, line, zone=zone, **more)
        return render(request, "run/page.html", context, status=status)


def wants_json(request: HttpRequest) -> bool:
    return request.headers.get("Accept", "").startswith("application/json")


# -- what is sent --------------------------------------------------------------------------------


def _answer(
    request: HttpRequest, site: Site, found: RunSheet, line: Line, check: SiteCheck
) -> HttpResponse:
    form = AnswerForm(request.POST, check=check)
    try:
        made = take_answer(request, site, check, form)
    except actions.Overtaken as error:
        return _overtaken(request, site, found, line, form, error.theirs)
    except proof_actions.Later as error:
        return _later(request, site, found, line, form, str(error))
    except (actions.Refused, proof_actions.Unfit) as error:
        return _refused(request, site, found, line, form, str(error))
    said = f"{check.number} is answered: {AnswerState.words_of(made.state)}."
    return _done(request, site, line, said, seen=made.pk, state=made.state)


def _move(request: HttpRequest, site: Site, found: RunSheet, line: Line) -> HttpResponse:
    form = StepForm(request.POST)
    try:
        if not form.is_valid():
            raise actions.Refused("Say whether it is begun or done.")
        sent = form.cleaned_data
        if sent["owner"]:
            owner = Person.objects.filter(pk=sent["owner"]).first()
        else:
            owner = None
        moved = step_actions.move_step(
            by=request.user,
            site=site,
            step=line.one,
            does=sent["does"],
            waits=line.waits,
            owner=owner,
            seen=sent["seen"],
            token=sent["token"],
            at=actions.moment_of(sent["age"]),
        )
    except actions.Overtaken as error:
        return _overtaken(request, site, found, line, form, error.theirs)
    except actions.Refused as error:
        return _refused(request, site, found, line, form, str(error))
    said = f"{line.one.number} is {moved.state}."
    if sent["does"] == StepMove.HAND:
        said = f"{line.one.number} is in the hands of {moved.owner}."
    return _done(request, site, line, said, seen=moved.edits, state=moved.state)


def _done(request: HttpRequest, site: Site, line: Line, said: str, **more) -> HttpResponse:
    if wants_json(request):
        return JsonResponse({"said": said, **more})
    messages.success(request, said)
    return redirect(line.url)


def _refused(
    request: HttpRequest, site: Site, found: RunSheet, line: Line, form, why: str
) -> HttpResponse:
    box = form.box
    if wants_json(request):
        if box:
            asks = {box.name: box.value}
        else:
            asks = None
        return JsonResponse({"refused": why, "no_secret": asks}, status=422)
    return _page(request, site, found, line, 422, refused=why, typed=form.data, box=box, bad=True)


def _later(
    request: HttpRequest, site: Site, found: RunSheet, line: Line, form, why: str
) -> HttpResponse:
    """It cannot be kept just now: a device keeps it and sends it again by itself, a page keeps what was typed."""
    if not wants_json(request):
        return _refused(request, site, found, line, form, why)
    return JsonResponse({"refused": why}, status=503, headers={"Retry-After": str(LATER)})


def _overtaken(
    request: HttpRequest, site: Site, found: RunSheet, line: Line, form, theirs
) -> HttpResponse:
    """Somebody was there first: theirs beside one's own, and a choice."""
    mine = {
        name: form.data.get(name, "")
        for name in ("state", "note", "measured", "value", "does", "owner")
    }
    clash = {
        "first": guard.HERE,
        "theirs": theirs,
        "mine": mine,
        "seen": _seen(line, theirs),
        "token": new_token(),
        "files": len(request.FILES),
    }
    if wants_json(request):
        with local(site) as zone:
            context = {"clash": clash, "line": line, "site": site, "zone": zone, "scripted": True}
            shown = render_to_string("run/_clash.html", context, request=request)
        return JsonResponse({"clash": shown, "seen": clash["seen"]}, status=409)
    return _page(request, site, found, line, 409, clash=clash, bad=True)


def _seen(line: Line, theirs) -> int:
    if theirs is None:
        return 0
    if line.is_check:
        return theirs.pk
    return theirs.edits
