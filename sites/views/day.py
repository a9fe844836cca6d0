"""10 Stages: the on-site day, who does what when."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_safe

from planner.papers.drawings.svg import to_svg
from planner.papers.drawings.timeline import draw
from planner.record.chapters import BY_SLUG
from planner.stages.day_words import length_words
from sites.access import door as access
from sites.actions.steps import lines_of
from sites.models import Site
from sites.pages import on_site
from sites.pages.standing import plan_of
from sites.pages.workbook import frame


@access.for_site(access.READ)
@require_safe
def day(request: HttpRequest, site: Site) -> HttpResponse:
    """The day laid out for the people there; on the day itself anew from what has happened."""
    plan = plan_of(site)
    found, real = on_site.laid_out(site, plan, lines_of(site))
    if found.simulated:
        chance = found.simulated.chance(found.length)
    else:
        chance = None
    context = {
        **frame(request, site, BY_SLUG["stages"], plan),
        "day": found,
        "real": real,
        "lanes": on_site.lanes(plan, found),
        "moved": on_site.moved(plan, found),
        "chance": chance,
        "ends": found.clock(found.finish) if found.finish is not None else "",
        "over": length_words(found.over),
        "work": length_words(found.work),
        "longest": length_words(found.longest),
        "drawing": mark_safe(to_svg(draw(plan, found), "day")),  # noqa: S308  (to_svg escapes what people typed)
    }
    return render(request, "stages/day.html", context)
