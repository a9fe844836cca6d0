"""The home page, and whether the house is well."""

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.db import connection
from django.db.models import Q
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render

from sites.access import door as access

SITES_A_PAGE, CUSTOMERS_SHOWN = 50, 50


def health(request: HttpRequest) -> JsonResponse:
    """Answers from the database, for whatever watches this server."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
        well = cursor.fetchone() == (1,)
    return JsonResponse({"well": well})


@login_required
def home(request: HttpRequest) -> HttpResponse:
    """The sites one may see: what needs attention first. For htmx only the list, while somebody types."""
    q = request.GET.get("q", "").strip()[:100]
    sites = access.sites_of(request.user).order_by("-stoppers", "on_site_date", "name", "pk")
    customers = access.customers_of(request.user)
    if q:
        sites = sites.filter(
            Q(name__icontains=q) | Q(customer__name__icontains=q) | Q(code__icontains=q)
        )
        customers = customers.filter(
            Q(name__icontains=q) | Q(code__icontains=q) | Q(reference__icontains=q)
        )
    pages = Paginator(sites, SITES_A_PAGE)
    context = {
        "page": pages.get_page(request.GET.get("page")),
        "q": q,
        "customers": customers[: CUSTOMERS_SHOWN + 1],
        "shown": CUSTOMERS_SHOWN,
    }
    return render(request, "_sites.html" if request.htmx else "home.html", context)
