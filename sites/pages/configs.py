"""9.4 For the network's owner: which configurations the plan can be written as, and what each leaves out."""

from __future__ import annotations

from dataclasses import dataclass, field

from planner.papers.configs import CONFIGS, Edition, Ground, Kind, Problem
from planner.papers.configs.parts import READ_FIRST
from planner.plan import Plan
from sites.models import Revision, Site
from sites.pages import links as places
from sites.pages.links import Place

MOST_READ = (
    5000  # claims beyond which the page does not write every file only to tell what it would lack
)


@dataclass(frozen=True)
class LeftOut:
    """What a configuration lacks, and where a person would mend it; what lacks in the whole plan has no place."""

    problem: Problem
    place: Place | None = None


@dataclass(frozen=True)
class Offer:
    """One configuration as the page offers it; ``unread`` when nobody looked yet what it lacks."""

    kind: Kind
    file_name: str
    left_out: list[LeftOut] = field(default_factory=list)
    unread: bool = False


def offered(site: Site, plan: Plan) -> dict:
    """What section 9.4 shows: the newest revision's letter, and every configuration of the plan as it stands."""
    newest = (
        Revision.objects.filter(site=site)
        .order_by("-number")
        .values_list("letter", flat=True)
        .first()
    )
    ground = Ground(plan)
    return {
        "config_letter": newest or "",
        "config_caution": READ_FIRST,
        "configs": [_offer(kind, ground) for kind in CONFIGS.values()],
    }


def _offer(kind: Kind, ground: Ground) -> Offer:
    plan = ground.plan
    name = kind.file_name(plan, Edition(plan.facts.today))
    if len(plan.addressing.claims) > MOST_READ:
        return Offer(kind, name, unread=True)
    return Offer(kind, name, [LeftOut(one, places.of_ref(one.at)) for one in kind.lacks(ground)])
