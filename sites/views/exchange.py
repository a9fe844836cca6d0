"""A whole site leaves as JSON, and comes in from another Deskwright."""

from __future__ import annotations

import dataclasses
import json

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from planner import exchange, work_out
from planner.exchange.reading import FILE_BYTES
from planner.papers.sheets.table import Unreadable
from planner.record.choices import AnswerState, SitePurpose
from planner.record.facts import KIND_WORDS, SiteFacts
from planner.review import WEIGHTS
from sites.access import asker
from sites.access import door as access
from sites.actions import once
from sites.actions.exchange import bring_in as make_site_of
from sites.actions.exchange import settled
from sites.forms.customers import SiteForm
from sites.forms.exchange import FileForm, TooMuch, unwrap, wrap
from sites.forms.foreign import Tidier
from sites.forms.secrets import BOX
from sites.models import Customer, Site
from sites.viewing.making import made_of
from sites.viewing.papers import download, note_printed, printed_from

SHOWN = 100  # lines of what was left out
MEDIA_TYPE = "application/json"


@access.for_site(access.READ)
@require_safe
def export(request: HttpRequest, site: Site) -> HttpResponse:
    """The whole site as JSON; ``?revision=B`` as it was frozen."""
    plan, revision = printed_from(request, site)
    content = exchange.write(exchange.to_document(plan.facts))
    note_printed(request, site, "whole site", plan, revision)
    return download(content, MEDIA_TYPE, site, "site", revision, "json")


@require_safe
def schema(request: HttpRequest, version: int) -> HttpResponse:
    """What a document of a version looks like. Nothing in it is anybody's data."""
    if version != exchange.VERSION:
        return JsonResponse({"known": [exchange.VERSION]}, status=404)
    return HttpResponse(
        json.dumps(exchange.schema(), indent=1), content_type="application/schema+json"
    )


@access.for_customer(access.EDIT)
@require_http_methods(["GET", "HEAD", "POST"])
def bring_in(request: HttpRequest, customer: Customer) -> HttpResponse:
    """Takes a file, shows what it holds; makes the site once that is confirmed."""
    if "parcel" in request.POST:
        return _confirmed(request, customer)
    if request.method != "POST":
        return _ask(request, customer, _file_form())
    form = _file_form(request)
    if not form.is_valid():
        return _ask(request, customer, form, 422)
    try:
        brought = exchange.read_document(form.data_of_file, timezone.localdate())
        tidier = Tidier(brought.facts)
        facts = tidier.tidied()
        parcel = wrap(exchange.to_document(brought.facts), _salt(request, customer))
    except Unreadable as error:
        form.add_error("file", str(error))
    except TooMuch:
        form.add_error("file", "The site is too large to be brought in at once.")
    else:
        left_out = (*brought.left_out, *tidier.left_out)
        said = {"unknown": brought.unknown, "left_out": left_out, "box": tidier.asked.box()}
        return _preview(request, customer, facts, parcel, said)
    return _ask(request, customer, form, 422)


def _file_form(request: HttpRequest | None = None) -> FileForm:
    if request is None:
        return FileForm(most=FILE_BYTES, accept=".json,application/json")
    too_large = getattr(request, "too_large", False)
    return FileForm(
        request.POST,
        request.FILES,
        most=FILE_BYTES,
        too_large=too_large,
        accept=".json,application/json",
    )


def _salt(request: HttpRequest, customer: Customer) -> str:
    return f"bring-in:{customer.pk}:{request.user.pk}"


def _ask(
    request: HttpRequest, customer: Customer, form: FileForm, status: int = 200
) -> HttpResponse:
    context = {"customer": customer, "form": form, "bad": form if form.errors else None}
    return render(request, "exchange/bring_in.html", context, status=status)


def _preview(
    request: HttpRequest,
    customer: Customer,
    facts: SiteFacts,
    parcel: str,
    said: dict,
    form: SiteForm | None = None,
) -> HttpResponse:
    proposed = {
        "name": facts.site.name,
        "code": _free_code(customer, facts.site.code),
        "purpose": facts.site.purpose,
    }
    there = dataclasses.replace(settled(facts), signatures=(), acceptances=())
    review = work_out(there).review
    left_out = said.get("left_out", ())
    context = {
        "customer": customer,
        "facts": facts,
        "parcel": parcel,
        "unknown": said.get("unknown", ()),
        "box": said.get("box"),
        "left_out": left_out[:SHOWN],
        "left_out_more": max(0, len(left_out) - SHOWN),
        "counts": _counts(facts),
        "weights": [(weight, _plural(len(review.open(weight)), weight)) for weight in WEIGHTS],
        "stay": _stay(facts),
        "numbers": len(there.assumed),
        "purpose": SitePurpose.words_of(facts.site.purpose, ""),
        "form": form or SiteForm(initial=proposed, customer=customer),
        "bad": form if form and form.errors else None,
    }
    return render(request, "exchange/preview.html", context, status=422 if context["bad"] else 200)


def _free_code(customer: Customer, wanted: str) -> str:
    """The code of the site there, with a number behind it where it is taken here."""
    taken = set(Site.objects.filter(customer=customer).values_list("code", flat=True))
    if wanted not in taken:
        return wanted
    return next(
        code for n in range(2, len(taken) + 3) if (code := f"{wanted[:36]}-{n}") not in taken
    )


def _plural(count: int, word: str) -> str:
    if count == 1:
        return f"{count} {word}"
    return f"{count} {word}s"


def _counts(facts: SiteFacts) -> list[tuple[str, int]]:
    found: dict[str, int] = {}
    for record in facts.records():
        if record.kind not in ("site", "directory", "service"):
            found[KIND_WORDS[record.kind]] = found.get(KIND_WORDS[record.kind], 0) + 1
    return list(found.items())


def _stay(facts: SiteFacts) -> dict[str, int]:
    """What does not come along."""
    looked = sum(one.state in (AnswerState.PROVEN, AnswerState.FAILED) for one in facts.answers)
    return {
        "signatures": len(facts.signatures),
        "acceptances": len(facts.acceptances),
        "looked": looked,
    }


def _confirmed(request: HttpRequest, customer: Customer) -> HttpResponse:
    parcel = request.POST["parcel"]
    document = unwrap(parcel, _salt(request, customer))
    if document is None:
        form = _file_form()
        messages.error(request, "What was read is no longer at hand. Choose the file once more.")
        return _ask(request, customer, form, 422)
    brought = exchange.read_document(exchange.write(document), timezone.localdate())
    tidier = Tidier(brought.facts, request.POST.get(BOX, ""))
    facts = tidier.tidied()
    form = SiteForm(request.POST, customer=customer)
    lead = request.access.may_lead
    made = made_of(
        form,
        once.Sent(request.user, "brought in", customer.pk, request.POST),
        lambda: make_site_of(
            by=request.user, customer=customer, facts=facts, may_excuse=lead, **form.cleaned_data
        ),
    )
    if made is None:
        said = {"left_out": tidier.left_out, "box": tidier.asked.box()}
        return _preview(request, customer, facts, parcel, said, form)
    site = once.still_there(made, customer.sites.filter(removal=None))
    if site is None:
        messages.warning(request, once.GONE)
        return redirect("customer", customer.code)
    tidier.asked.agree()
    asker.now().site = site
    messages.success(request, f"{site} is here now. Look at its dates and its findings first.")
    return redirect("chapter", customer.code, site.code, "brief")
