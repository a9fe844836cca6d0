"""What an open page asks every few seconds: who else is here, and has the site moved on."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from planner.record.chapters import BY_NUMBER
from sites.access import door as access
from sites.actions.presence import be_seen, others_at
from sites.forms.numbers import whole
from sites.models import Site


@access.for_site(access.READ)
@require_safe
def watch(request: HttpRequest, site: Site) -> HttpResponse:
    """204 while nothing is new; else the part of the head that says so.

    ``?chapter=`` is the chapter on the page, ``?counter=`` the site's counter it was made at,
    ``?known=`` what the page says already.
    """
    asked = {name: whole(request.GET.get(name, "")) for name in ("chapter", "counter")}
    if asked["chapter"] in BY_NUMBER:
        chapter = asked["chapter"]
    else:
        chapter = 1
    be_seen(by=request.user, site=site, chapter=chapter)
    others = [(one.person, BY_NUMBER.get(one.chapter)) for one in others_at(site, request.user)]
    moved = asked["counter"] != site.counter
    known = "-".join(
        [f"{moved:d}", *(f"{person.pk}.{there.number if there else 0}" for person, there in others)]
    )
    if request.GET.get("known") == known:
        return HttpResponse(status=204)
    context = {
        "site": site,
        "others": others,
        "site_moved": moved,
        "known": known,
        "at": chapter,
        "counter": asked["counter"],
    }
    return render(request, "workbook/_watch.html", context)
