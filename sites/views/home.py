"""The home page, and whether the house is well."""

from django.contrib.auth.decorators import login_required
from django.db import connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render

from sites import access


def health(request: HttpRequest) -> JsonResponse:
    """Answers from the database, for whatever watches this server."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
        well = cursor.fetchone() == (1,)
    return JsonResponse({"well": well})


@login_required
def home(request: HttpRequest) -> HttpResponse:
    return render(request, "home.html", {"sites": access.sites_of(request.user)[:100]})
