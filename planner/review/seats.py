"""Findings about seat groups: who sits where, how many, when."""

from __future__ import annotations

from collections.abc import Iterator

from planner.engine.placement.capacity import known
from planner.record import units
from planner.record.choices import SeatKind
from planner.record.facts import SeatGroup
from planner.review.base import Hit, Mend, rule
from planner.stages.staged import Staged


@rule("seats-no-template")
def no_template(plan: Staged) -> Iterator[Hit]:
    for group in plan.facts.seat_groups:
        if group.template_id is None:
            yield Hit(group.ref.at("template_id"), group=group.label)


@rule("seats-number-unknown")
def number_unknown(plan: Staged) -> Iterator[Hit]:
    for group in plan.facts.seat_groups:
        for field, what in (
            ("people", "how many people"),
            ("share_at_once", "how many of them at once"),
        ):
            if known(getattr(group, field)) is None:
                yield Hit(group.ref.at(field), group=group.label, what=what)


@rule("seats-share-over-one")
def share_over_one(plan: Staged) -> Iterator[Hit]:
    for group in plan.facts.seat_groups:
        share = known(group.share_at_once)
        if share is not None and share > 1:
            # 70 where 0.7 was meant: typed into the field, which takes per cent, "70" is 0.7
            if share <= 100:
                value = units.show(share, 4).replace(",", "")
            else:
                value = ""
            if value:
                mend = Mend(group.ref, (("share_at_once", value),))
            else:
                mend = None
            yield Hit(
                group.ref.at("share_at_once"),
                mend=mend,
                group=group.label,
                share=units.show(100 * share),
                value=value,
            )


@rule("seats-arrivals-unknown")
def arrivals_unknown(plan: Staged) -> Iterator[Hit]:
    for group in plan.facts.seat_groups:
        if group.arrive_around is None:
            yield Hit(
                group.ref.at("arrive_around"), group=group.label, what="around when they arrive"
            )
        elif known(group.arrive_spread_minutes) is None:
            yield Hit(
                group.ref.at("arrive_spread_minutes"),
                group=group.label,
                what="how spread their arrival is",
            )


@rule("seats-name-twice")
def name_twice(plan: Staged) -> Iterator[Hit]:
    first: dict[tuple[str, str], SeatGroup] = {}
    for group in plan.facts.seat_groups:
        key = (group.name.strip().casefold(), group.seat_kind)
        if key[0] and key in first:
            also = (first[key].ref.at("name"),)
            yield Hit(group.ref.at("name"), also=also, name=group.name.strip())
        first.setdefault(key, group)


@rule("seats-person-many")
def person_many(plan: Staged) -> Iterator[Hit]:
    for group in plan.facts.seat_groups:
        people = known(group.people)
        if group.seat_kind == SeatKind.PERSON and people is not None and people > 1:
            mend = Mend(group.ref, (("people", "1"),))
            yield Hit(
                group.ref.at("people"), mend=mend, group=group.label, people=units.show(people)
            )


@rule("seats-people-apart")
def people_apart(plan: Staged) -> Iterator[Hit]:
    counted, groups = known(plan.facts.site.people_count), plan.facts.seat_groups
    people = [known(group.people) for group in groups]
    if counted is None or not groups or None in people:
        return
    seated = sum(count or 0 for count in people)
    if seated != counted:
        if seated < counted:
            which = "fewer"
        else:
            which = "more"
        yield Hit(
            plan.facts.site.ref.at("people_count"),
            also=tuple(group.ref.at("people") for group in groups),
            counted=units.show(counted),
            seated=units.show(seated),
            apart=units.show(abs(seated - counted)),
            which=which,
        )
