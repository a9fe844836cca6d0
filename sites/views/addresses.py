"""9.1 Addresses: looking claims up, taking a free address, laying out what is missing, carving subnets, DHCP ranges."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from planner.plan import Plan
from planner.record.chapters import BY_SLUG
from planner.record.facts import KIND_WORDS, Ref, ref_of
from sites.access import door as access
from sites.actions import addresses as actions
from sites.actions.addresses import Offer
from sites.actions.stages import Refused
from sites.forms.addresses import CarveForm
from sites.models import Site
from sites.pages import addresses
from sites.pages import proposals as offers
from sites.pages.standing import plan_of
from sites.pages.workbook import frame

CHAPTER = BY_SLUG["addresses"]
PARTS = (
    "addresses",
    "claims",
    "missing",
    "settling",
)  # places on the page that one may come back to


def _page(site: Site, asked: str = "", anchor: str = "addresses") -> str:
    """The address of the chapter, with what was looked at there."""
    query = QueryDict(asked[:2000]).urlencode()
    url = reverse("chapter", args=[site.customer.code, site.code, CHAPTER.slug])
    return f"{url}{'?' if query else ''}{query}#{anchor if anchor in PARTS else 'addresses'}"


@access.for_site(access.READ)
@require_safe
def find(request: HttpRequest, site: Site) -> HttpResponse:
    """The table of claims that a search means, for htmx; whoever comes without it is sent to the page."""
    asked = request.GET.urlencode()
    if not request.htmx:
        return redirect(_page(site, asked, "claims"))
    context = {
        **addresses.found(plan_of(site), request.GET),
        "site": site,
        "access": request.access,
        "asked": asked,
    }
    response = render(request, "addresses/_claims.html", context)
    response.headers["HX-Replace-Url"] = _page(site, asked, "claims")
    return response


@access.for_site(access.EDIT)
@require_POST
def take(request: HttpRequest, site: Site) -> HttpResponse:
    """Gives one record the address that stands beside it."""
    sent = request.POST
    at = _field(sent.get("at", ""), sent.get("field", ""))
    try:
        if at is None:
            raise Refused("Nothing was chosen.")
        value = sent.get("value", "")
        actions.take(by=request.user, site=site, at=at, value=value, offered=addresses.taken_by)
        messages.success(request, f"Done: {value} is taken.")
    except Refused as error:
        messages.error(request, str(error))
    return redirect(_page(site, sent.get("asked", ""), sent.get("back", "")))


def _field(anchor: str, field: str) -> Ref | None:
    record = ref_of(anchor)
    if record and record.kind in KIND_WORDS:
        return record.at(field)
    return None


def _confirm(
    request: HttpRequest, site: Site, offer: Callable[[Plan], Iterable[Offer]], words: str
) -> int:
    """Writes down what was ticked. Gives the status of the page to be shown when it was not, else 0."""
    chosen = request.POST.getlist("take")
    if not chosen:
        messages.error(request, "Nothing was ticked, so nothing was saved.")
        return 422
    try:
        count = actions.confirm(by=request.user, site=site, offer=offer, chosen=chosen)
    except Refused as error:
        messages.error(request, str(error))
        return 409
    messages.success(request, f"{words}: {count}.")
    return 0


@access.for_site(access.READ, write=access.EDIT)
@require_http_methods(["GET", "HEAD", "POST"])
def lay_out(request: HttpRequest, site: Site) -> HttpResponse:
    """Every record without an address and what it would get; POST writes down the rows that are ticked."""
    if request.method == "POST":
        status = _confirm(request, site, offers.of_layout, "Addresses given")
    else:
        status = 200
    if not status:
        return redirect(_page(site))
    plan = plan_of(site)
    laid = plan.layout.proposals[: offers.MOST_ROWS]
    counted = actions.counted(site, offers.of_layout(plan))
    context = {
        **frame(request, site, CHAPTER, plan),
        "rows": list(zip(laid, counted, strict=True)),
        "left": [addresses.missing_row(one) for one in plan.layout.left[: offers.MOST_ROWS]],
        "more": len(plan.layout.proposals) - len(laid),
    }
    return render(request, "addresses/lay_out.html", context, status=status)


@access.for_site(access.READ, write=access.EDIT)
@require_http_methods(["GET", "HEAD", "POST"])
def carve(request: HttpRequest, site: Site) -> HttpResponse:
    """A supernet divided by the address's own query; POST gives the networks that are ticked their subnets."""

    def offer(plan: Plan) -> list[Offer]:
        return offers.of_carving(CarveForm(request.GET, plan=plan))

    if request.method == "POST":
        status = _confirm(request, site, offer, "Subnets written down")
    else:
        status = 200
    if not status:
        return redirect(_page(site))
    plan = plan_of(site)
    form = CarveForm(request.GET, plan=plan)
    valid = form.is_valid()
    if valid:
        found = offers.carved(form)
    else:
        found = None
    if found:
        tokens = {one.record: one.token for one in actions.counted(site, offers.of_carving(form))}
    else:
        tokens = {}
    context = {
        "site": site,
        "access": request.access,
        "form": form,
        "bad": None if valid else form,
        "carved": found,
        "rows": [(row, tokens.get(row.offer.record, "") if row.offer else "") for row in found.rows]
        if found
        else [],
        "can_use": bool(tokens),
        "asked": request.GET.urlencode(),
    }
    if valid:
        status = status
    else:
        status = 422
    if request.htmx:
        response = render(request, "addresses/_carved.html", context, status=status)
        response.headers["HX-Replace-Url"] = request.get_full_path()
        return response
    return render(
        request,
        "addresses/carve.html",
        {**frame(request, site, CHAPTER, plan), **context},
        status=status,
    )


@access.for_site(access.READ, write=access.EDIT)
@require_http_methods(["GET", "HEAD", "POST"])
def ranges(request: HttpRequest, site: Site) -> HttpResponse:
    """The DHCP range and the lease each desktop network would get; POST writes down those that are ticked."""
    if request.method == "POST":
        status = _confirm(request, site, offers.of_scopes, "Ranges written down")
    else:
        status = 200
    if not status:
        return redirect(_page(site))
    plan = plan_of(site)
    tokens = {one.record.id: one.token for one in actions.counted(site, offers.of_scopes(plan))}
    context = {
        **frame(request, site, CHAPTER, plan),
        "can_use": bool(tokens),
        "rows": [
            (one, tokens.get(one.network_id, ""))
            for one in offers.scopes_of(plan)[: offers.MOST_ROWS]
        ],
    }
    return render(request, "addresses/ranges.html", context, status=status)
