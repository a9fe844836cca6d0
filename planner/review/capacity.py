"""Findings about capacity: what does not fit, shown where somebody would change it."""

from __future__ import annotations

from collections.abc import Iterator

from planner.engine.placement.placing import HostDown, Placement
from planner.record import units
from planner.record.facts import Ref
from planner.review.base import Hit, rule
from planner.review.words import and_list
from planner.stages.staged import Staged


def _total(plan: Staged) -> int:
    return sum(template.most or 0 for template in plan.facts.templates)


def _fewest(found: Placement | HostDown) -> str:
    """How many go without: a number, or from a proved one to the best that was found."""
    low, high = units.show(found.left_at_least), units.show(found.left_out)
    if found.proved:
        return high
    return f"{low} to {high}"


def _left(plan: Staged, found: Placement | HostDown) -> str:
    return and_list(
        [
            f"{units.show(count)} of {plan.facts.named('template', id)}"
            for id, count in found.left.items()
        ]
    )


@rule("desktops-do-not-fit")
def do_not_fit(plan: Staged) -> Iterator[Hit]:
    found = plan.placement
    if found.fits is not False:
        return
    worst, *others = sorted(found.left, key=lambda id: found.left[id], reverse=True)
    yield Hit(
        Ref("template", worst, "most"),
        also=tuple(Ref("template", id, "most") for id in others),
        left=_fewest(found),
        total=units.show(_total(plan)),
        needs=units.show(found.needs_gib),
        needs_vcpu=units.show(found.needs_vcpu),
        offers=units.show(found.offers_gib),
        offers_vcpu=units.show(found.offers_vcpu),
        binds=found.binds.words or "room",
        who=_left(plan, found),
        short=units.show(found.short_gib),
        short_vcpu=units.show(found.short_vcpu),
    )


@rule("desktops-do-not-fit-without-a-host")
def do_not_fit_with_one_down(plan: Staged) -> Iterator[Hit]:
    """One finding, at the host whose loss costs most; a site with one host, or one too small anyway, has others."""
    found = plan.placement
    short = [down for down in found.without if down.fits is False]
    if not found.fits or len(found.hosts) < 2 or not short:
        return
    worst = min(short, key=lambda down: (-down.left_out, down.name))
    others = [down for down in short if down is not worst]
    names = and_list([down.name for down in others])
    offers = (found.offers_gib or 0.0) - (
        getattr(found.host(worst.host_id), "offers_gib", None) or 0.0
    )
    yield Hit(
        Ref("host", worst.host_id),
        also=tuple(Ref("host", down.host_id) for down in others),
        host=worst.name,
        left=_fewest(worst),
        total=units.show(_total(plan)),
        needs=units.show(found.needs_gib),
        offers=units.show(offers),
        binds=worst.binds.words or "room",
        who=_left(plan, worst),
        short=units.show(worst.short_gib),
        short_vcpu=units.show(worst.short_vcpu),
        others=f" With {names} down, in turn, some go without too." if others else "",
    )


@rule("placement-not-proved")
def not_proved(plan: Staged) -> Iterator[Hit]:
    """Neither a place for everybody nor the proof that there is none, with all hosts or with one down."""
    found = plan.placement
    if found.missing or not found.hosts:
        return
    unsure = [down.name for down in found.without if down.fits is None]
    if found.fits is None or unsure:
        if found.fits is None:
            what = "with every host there"
        else:
            what = f"with {and_list(unsure)} down"
        yield Hit(Ref("host", found.hosts[0].host_id), what=what)
