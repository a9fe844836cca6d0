"""7 Pilot: the acceptance sheet, opened by a link that ends, and what comes back from it."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from planner.record.chapters import BY_SLUG
from planner.stages import pilot
from sites.access import asker
from sites.access import door as access
from sites.actions import once
from sites.actions import pilot as actions
from sites.actions.stages import Refused
from sites.forms.layout import Shaped, Whole
from sites.forms.pilot import PilotLinkForm, PilotNotesForm
from sites.models import Site
from sites.models.pilot import PilotLink
from sites.pages.standing import plan_of
from sites.pages.workbook import frame


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def sheet(request: HttpRequest, token: str) -> HttpResponse:
    """The sheet alone, for whoever holds the link; nobody signs in. Gone when the link has ended."""
    link = actions.open_link(token)
    if link is None:
        return render(request, "pilot/ended.html", status=410)
    plan = plan_of(link.site)
    asked = pilot.questions(plan)
    asker.now().site = link.site
    kept = {one.check_key: (one.state, one.note) for one in link.results.all()}
    form = PilotNotesForm(
        request.POST or None,
        asked=[one.check for one in asked],
        kept={check: note for check, (_, note) in kept.items()},
    )
    if request.method == "POST" and form.is_valid():
        found = {one.check: request.POST.get(f"state-{one.check}", "") for one in asked}
        results = {check: (state, form.note(check).strip()) for check, state in found.items()}
        actions.write(link=link, asked=[one.check for one in asked], results=results)
        messages.success(request, "Thank you: it is kept. You can change it until the sheet ends.")
        return redirect("pilot-sheet", token)
    refused = form.asked.words
    rows = [(one, _state(form, one, kept), form[f"note-{one.check}"]) for one in asked]
    form.helper = Whole(Shaped("pilot/_questions.html", *form.fields, rows=rows))
    context = {
        "link": link,
        "form": form if asked else None,
        "refused": refused,
        "box": form.box,
        "bad": refused,
    }
    response = render(request, "pilot/sheet.html", context, status=422 if refused else 200)
    response.headers["X-Robots-Tag"] = "noindex"
    return response


def _state(form: PilotNotesForm, question: pilot.Question, kept: dict[str, tuple[str, str]]) -> str:
    """What was found: as it was sent just now, or as it is kept."""
    if form.is_bound:
        return form.data.get(f"state-{question.check}", "")
    return kept.get(question.check, ("", ""))[0]


@access.for_site(access.READ, write=access.EDIT)
@require_http_methods(["GET", "HEAD", "POST"])
def links(request: HttpRequest, site: Site) -> HttpResponse:
    """The links made so far with what came back, and a new one."""
    plan = plan_of(site)
    form = PilotLinkForm(request.POST or None)
    if request.method == "POST" and _made(request, site, form):
        return redirect("pilot-links", site.customer.code, site.code)
    numbers = {one.check: one for one in pilot.questions(plan)}
    found = (
        PilotLink.objects.filter(site=site)
        .select_related("made_by")
        .prefetch_related("results")[:100]
    )
    rows = [
        (link, [(numbers.get(one.check_key), one) for one in link.results.all()]) for link in found
    ]
    context = {
        **frame(request, site, BY_SLUG["stages"], plan),
        "rows": rows,
        "form": form,
        "now": timezone.now(),
        "bad": form if form.errors else None,
    }
    return render(request, "pilot/links.html", context, status=422 if form.errors else 200)


def _made(request: HttpRequest, site: Site, form: PilotLinkForm) -> bool:
    """Makes a link and shows its address. Pressed twice it is one link, and both answers show the same address."""
    sent = once.Sent(request.user, "pilot link", site.pk, request.POST)
    token = sent.secret
    try:
        made = once.take(
            sent,
            valid=form.is_valid,
            make=lambda: actions.make_link(
                by=request.user, site=site, token=token, **form.cleaned_data
            )[0],
        )
    except Refused as error:
        messages.warning(request, str(error))
        return True
    if made is None:
        return False
    link = once.still_there(
        made, PilotLink.objects.filter(site=site, token_hash=actions.hash_of(token))
    )
    if link is None:
        messages.warning(request, once.GONE)
        return True
    url = request.build_absolute_uri(reverse("pilot-sheet", args=[token]))
    messages.success(request, f"Give {link.person} this address; it is shown only now: {url}")
    return True


@access.for_site(access.EDIT)
@require_POST
def end(request: HttpRequest, site: Site, pk: int) -> HttpResponse:
    link = get_object_or_404(PilotLink, pk=pk, site=site)
    actions.end_link(link=link)
    messages.success(request, f"The address no longer opens {link}.")
    return redirect("pilot-links", site.customer.code, site.code)


@access.for_site(access.EDIT)
@require_POST
def take(request: HttpRequest, site: Site, pk: int) -> HttpResponse:
    """What came back becomes answers, in the name of whoever takes it."""
    link = get_object_or_404(PilotLink, pk=pk, site=site)
    plan = plan_of(site)
    taken, refused = actions.take(
        by=request.user, role=request.access.role, site=site, link=link, plan=plan
    )
    if taken:
        messages.success(request, f"{taken} checks answered from {link}.")
    for why in refused:
        messages.warning(request, f"Not answered: {why}")
    return redirect("pilot-links", site.customer.code, site.code)
