"""A site's plan, and the few figures of it that the home page shows.

The home page must cost the same with ten sites and ten thousand, so it never works out a plan: whoever
opens a page of a site whose counter has moved leaves its new standing behind.
"""

from __future__ import annotations

from planner.plan import Plan
from planner.review import WEIGHTS
from planner.review.base import Weight
from sites.models import Site
from sites.pages.plans import kept_plan


def plan_of(site: Site) -> Plan:
    """The plan of a site as it stands now. It may be shared with others: nobody changes it."""
    plan = kept_plan(site)
    if site.standing.get("counter") != site.counter:
        _leave(site, plan)
    return plan


def _leave(site: Site, plan: Plan) -> None:
    open_findings: dict[str, int] = {
        weight.value: len(plan.review.open(weight)) for weight in WEIGHTS
    }
    standing = {"counter": site.counter, "passed": plan.stages.passed, **open_findings}
    Site.objects.filter(pk=site.pk, counter=site.counter).update(
        standing=standing, stoppers=open_findings[Weight.STOPPER]
    )
