"""Chapter 8 in words: what it comes to, and the morning's lines ready to be shown."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from planner.engine.placement.loads import Resource
from planner.engine.surge import Curve, TemplateMorning, Waits
from planner.plan import Plan
from planner.record import units
from planner.review import Finding, base
from planner.review.words import and_list

BINDS: Mapping[Resource, str] = {
    Resource.MEMORY: "Memory binds first",
    Resource.VCPU: "vCPU binds first",
    Resource.DISK: "Disk space binds first",
}


def sentence(plan: Plan) -> str:
    """Whether all fits, also with a host down, and what binds first: one or two sentences."""
    placement = plan.placement
    if placement.missing:
        lacking = and_list(list(placement.missing))
        if len(placement.missing) == 1:
            verb = "is"
        else:
            verb = "are"
        return f"Whether the desktops fit cannot be told yet: {lacking} {verb} not known."
    total = sum(template.most or 0 for template in plan.facts.templates)
    if placement.fits is None:
        return f"Neither a place for all {units.show(total)} desktops nor the proof that there is none was found."
    if not placement.fits:
        left = f"{units.show(placement.left_out)} of {units.show(total)} desktops fit on no host."
        return f"{left} {_binds(placement.binds)}".strip()
    return f"All {units.show(total)} desktops fit{_with_one_down(plan)}. {_binds(placement.binds)}".strip()


def _binds(binds: Resource) -> str:
    if binds:
        return f"{BINDS[binds]}."
    return ""


def _with_one_down(plan: Plan) -> str:
    without = plan.placement.without
    if not without:
        if len(plan.placement.hosts) == 1:
            return "; with the one host down nobody works"
        return ""
    short = [down for down in without if down.fits is False]
    if short:
        worst = min(short, key=lambda down: (-down.left_out, down.name))
        return f", but with {worst.name} down {units.show(worst.left_out)} go without"
    if all(down.fits for down in without):
        return ", also with any one host down"
    return ""


@dataclass(frozen=True, slots=True)
class MorningLine:
    """One template's morning for a table: waits, and the smallest standbys in words."""

    name: str
    standby: int | None
    waits: Waits | None
    smallest: str
    smallest_down: str


def mornings(plan: Plan) -> list[MorningLine]:
    """Every template whose morning can be simulated."""
    there, down = plan.surge.all_there, plan.surge.one_down
    if there is None:
        return []
    return [
        MorningLine(
            one.name,
            one.standby,
            one.waits,
            smallest_words(one),
            smallest_words(down.of(one.template_id) if down else None),
        )
        for one in there.templates
    ]


def smallest_words(one: TemplateMorning | None) -> str:
    """``3``, ``about 3`` where it is an estimate, ``none is enough``."""
    if one is None:
        return "—"
    if one.smallest is None:
        return "none is enough"
    if one.sure:
        return units.show(one.smallest)
    return f"about {units.show(one.smallest)}"


def curve_of(plan: Plan) -> Curve | None:
    """The morning's curve with every host there."""
    if plan.surge.all_there:
        return plan.surge.all_there.curve
    return None


ROOMS = (
    "capacity",
    "datastores",
    "leases",
    "seats",
    "morning",
    "line",
    "recovery",
    "activation",
    "applications",
    "facility",
    "lifecycles",
)


def capacity_findings(plan: Plan) -> list[Finding]:
    """Open findings about what chapter 8 works out; they stand beside the field to change, in other chapters."""
    return [one for one in plan.review.open() if one.chapter != 8 and _group(one) in ROOMS]


def of_things(findings: Iterable[Finding]) -> list[Finding]:
    """Those about what is planned or built, not about how far the work has come."""
    return [one for one in findings if _group(one) not in ("stages", "day", "brief")]


def _group(finding: Finding) -> str:
    """The module of the review that a finding's rule stands in."""
    return base.RULES[finding.key].__module__.rpartition(".")[2]
