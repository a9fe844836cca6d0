"""Questions people ask of a plan, with the changes that the answer would make. Each is asked on its own:
an answer may take several placements."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from dataclasses import dataclass

from planner.comparing.summary import smallest_words
from planner.comparing.whatif.changes import MOST_COPIES, Change, Copies, apply
from planner.engine.people.chances import Crowd
from planner.engine.people.concurrency import most_needed
from planner.engine.placement import placing as placements
from planner.engine.placement.capacity import counting_hosts, known
from planner.engine.storage import datastores as storages
from planner.plan import Plan
from planner.record import units
from planner.record.facts import Host, Id, Ref, SeatGroup, SiteFacts
from planner.review.words import and_list

MORE_PEOPLE = 20
AT_MOST_TIMES = 8  # nobody plans eight times as many people on the same hosts
STEP_GIB = 16.0  # memory is bought in such steps
LARGEST_GIB = 4096.0


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer in a sentence, the changes to try it with, and what it could not be told for."""

    text: str
    changes: tuple[Change, ...] = ()
    copies: tuple[Copies, ...] = ()
    missing: tuple[str, ...] = ()


def people_with_one_down(plan: Plan) -> Answer:
    """How many people fit if one host is down: seat groups grown or shrunk alike, *most* following them."""
    lacking = _lacking(plan)
    if lacking:
        return Answer("It cannot be told yet.", missing=lacking)
    people = sum(int(group.people or 0) for group in _seated(plan.facts))
    if not people:
        return Answer("No seat group has people yet.")

    def fits(count: int) -> bool:
        return _all_fit(
            plan, _sized(plan, _with_people(plan.facts, count)), one_down=_hosts(plan) > 1
        )

    count = _most(fits, people * AT_MOST_TIMES)
    if _hosts(plan) > 1:
        down = "with any one host down"
    else:
        down = "on the one host there is; with it down nobody works"
    if count == people * AT_MOST_TIMES:
        return Answer(f"More than {units.show(count)} people fit {down}.")
    grown = _with_people(plan.facts, count)
    return Answer(
        f"{units.show(count)} people fit {down}; {units.show(people)} are planned.",
        (*_people_changes(plan.facts, grown), *_most_changes(plan.facts, _sized(plan, grown))),
    )


def buy_for_more(plan: Plan, more: int = MORE_PEOPLE) -> Answer:
    """What must be bought for so many more people: hosts like the largest, or memory for every host."""
    lacking = _lacking(plan)
    if lacking:
        return Answer("It cannot be told yet.", missing=lacking)
    people = sum(int(group.people or 0) for group in _seated(plan.facts))
    if not people:
        return Answer("No seat group has people yet.")
    grown = _sized(plan, _with_people(plan.facts, people + more))
    base = (*_people_changes(plan.facts, grown), *_most_changes(plan.facts, grown))
    if _all_fit(plan, grown, one_down=True):
        return Answer(
            f"Nothing: {units.show(more)} more people fit as it is, also with any one host down.",
            base,
        )
    host = max(
        counting_hosts(plan.facts), key=lambda one: (one.memory_gib or 0, one.cores or 0, -one.id)
    )
    count = _fewest(
        lambda n: _all_fit(plan, apply(grown, copies=[Copies(host.id, n)]), one_down=True),
        MOST_COPIES,
    )
    memory = _memory_for(plan, grown)
    told = []
    if count is not None:
        if count == 1:
            hosts = "1 more host"
        else:
            hosts = f"{count} more hosts"
        told.append(f"{hosts} like {host.label}")
    if memory is not None:
        told.append(f"memory for every host up to {units.show(memory)} GiB")
    if not told:
        return Answer(
            f"{units.show(more)} more people do not fit with {MOST_COPIES} more hosts like {host.label}.",
            base,
        )
    copies = (Copies(host.id, count),) if count else ()
    return Answer(
        f"For {units.show(more)} more people, with any one host down: {' or '.join(told)}.",
        (
            *base,
            *(_memory_changes(plan.facts, memory) if memory is not None and not copies else ()),
        ),
        copies,
    )


def standby_for_the_morning(plan: Plan) -> Answer:
    """How much standby lets as many wait no longer than the target, template by template."""
    lacking = tuple(line for lines in plan.surge.missing.values() for line in lines)
    course = plan.surge.all_there
    if course is None:
        return Answer("It cannot be told yet.", missing=lacking)
    aim = f"For {units.show(100 * plan.surge.target_share)} of 100 within {units.show(plan.surge.target_seconds)} s"
    told = [f"{one.name} {smallest_words(one)}" for one in course.templates]
    wanted = tuple(
        Change(Ref("template", one.template_id, "standby"), one.smallest)
        for one in course.templates
        if one.smallest is not None and one.smallest != one.standby
    )
    return Answer(f"{aim}: {and_list(told, 30)}.", wanted, missing=lacking)


QUESTIONS: dict[str, tuple[str, Callable[[Plan], Answer]]] = {
    "people-one-down": ("How many people fit if one host is down?", people_with_one_down),
    "buy-for-more": (f"What must I buy for {MORE_PEOPLE} more people?", buy_for_more),
    "standby": ("How much standby for the morning's target?", standby_for_the_morning),
}


def ask(plan: Plan, key: str) -> Answer | None:
    """The answer to one of :data:`QUESTIONS`, or ``None`` when there is no such question."""
    if key in QUESTIONS:
        return QUESTIONS[key][1](plan)
    return None


# -- what the answers are made of ------------------------------------------------------------------


def _hosts(plan: Plan) -> int:
    return len(counting_hosts(plan.facts))


def _seated(facts: SiteFacts) -> list[SeatGroup]:
    """Seat groups whose people sit at a template."""
    return [
        group
        for group in facts.seat_groups
        if group.template_id is not None and known(group.people)
    ]


def _lacking(plan: Plan) -> tuple[str, ...]:
    found = list(plan.placement.missing)
    found += [line for need in plan.concurrency.by_template for line in need.missing]
    return tuple(dict.fromkeys(found))


def _with_people(facts: SiteFacts, people: int) -> SiteFacts:
    """Seat groups grown or shrunk alike to so many people together; the largest remainders round up."""
    seated = _seated(facts)
    now = sum(int(group.people or 0) for group in seated)
    exact = [(group.id, people * int(group.people or 0) / now) for group in seated]
    counts = {id: math.floor(share) for id, share in exact}
    short = people - sum(counts.values())
    for id, _ in sorted(exact, key=lambda one: (math.floor(one[1]) - one[1], one[0]))[:short]:
        counts[id] += 1
    groups = (
        dataclasses.replace(g, people=counts[g.id]) if g.id in counts else g
        for g in facts.seat_groups
    )
    return dataclasses.replace(facts, seat_groups=tuple(groups))


def _sized(plan: Plan, facts: SiteFacts) -> SiteFacts:
    """Every template's *most* just as large as its seat groups need at the usual risk."""
    crowds: dict[Id | None, list[Crowd]] = {}
    for group in _seated(facts):
        crowds.setdefault(group.template_id, []).append(
            (int(group.people or 0), group.share_at_once or 0.0)
        )
    risk, templates = plan.concurrency.risk, []
    for template in facts.templates:
        if template.id in crowds:
            needed = most_needed(crowds[template.id], risk)
        else:
            needed = None
        templates.append(template if needed is None else dataclasses.replace(template, most=needed))
    return dataclasses.replace(facts, templates=tuple(templates))


def _all_fit(plan: Plan, facts: SiteFacts, *, one_down: bool) -> bool:
    found = placements.work_out(facts, plan.numbers, storages.work_out(facts, plan.numbers))
    if not found.fits:
        return False
    return not one_down or (bool(found.without) and all(down.fits for down in found.without))


def _most(fits: Callable[[int], bool], top: int) -> int:
    """The largest count up to ``top`` that fits; more never fits where fewer does not."""
    low, high = 0, top + 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if fits(middle) else (low, middle)
    return low


def _fewest(enough: Callable[[int], bool], top: int) -> int | None:
    """The smallest count from 1 to ``top`` that is enough, or ``None``."""
    if not enough(top):
        return None
    return _most(lambda n: not enough(n), top - 1) + 1


def _memory_for(plan: Plan, facts: SiteFacts) -> float | None:
    """The smallest memory, in steps as sold, that on every host lets all fit; ``None`` when memory alone does not."""

    def enough(steps: int) -> bool:
        return _all_fit(plan, apply(facts, _memory_changes(facts, steps * STEP_GIB)), one_down=True)

    steps = _fewest(enough, int(LARGEST_GIB / STEP_GIB))
    if steps is None:
        return None
    return steps * STEP_GIB


def _memory_changes(facts: SiteFacts, gib: float) -> tuple[Change, ...]:
    """Every host brought up to so much memory; none loses any."""
    short: list[Host] = [host for host in counting_hosts(facts) if (host.memory_gib or 0) < gib]
    return tuple(Change(host.ref.at("memory_gib"), gib) for host in short)


def _people_changes(before: SiteFacts, after: SiteFacts) -> tuple[Change, ...]:
    pairs = zip(before.seat_groups, after.seat_groups, strict=True)
    return tuple(
        Change(new.ref.at("people"), new.people) for old, new in pairs if old.people != new.people
    )


def _most_changes(before: SiteFacts, after: SiteFacts) -> tuple[Change, ...]:
    pairs = zip(before.templates, after.templates, strict=True)
    return tuple(Change(new.ref.at("most"), new.most) for old, new in pairs if old.most != new.most)
