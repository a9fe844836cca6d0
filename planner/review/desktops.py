"""Findings about desktop templates: what they lack, how many run and stand ready, what is kept."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from planner.engine.people.concurrency import SeatNeed
from planner.engine.placement.capacity import known, positive
from planner.record import units
from planner.record.choices import Passage, ResetRule
from planner.record.facts import Ref, Template
from planner.review import line, seats  # noqa: F401  (their rules are of this chapter too)
from planner.review.base import Hit, Mend, rule
from planner.review.words import and_list, chance_words, people_words
from planner.stages.staged import Staged

REBUILDS: Mapping[str, str] = {
    ResetRule.SIGN_OUT: "at each sign-out",
    ResetRule.NIGHTLY: "every night",
    ResetRule.WEEKLY: "every week",
}
REACH_OF_32_BITS_GIB = 2**32 / units.GIB


@rule("template-none")
def none(plan: Staged) -> Iterator[Hit]:
    if not plan.facts.templates:
        yield Hit(plan.facts.site.ref)


def _lacking(
    plan: Staged, field: str, lacks: Callable[[Template], bool], **words: Any
) -> Iterator[Hit]:
    """A hit for every template that lacks something, at the field to fill."""
    return (
        Hit(t.ref.at(field), template=t.label, **words) for t in plan.facts.templates if lacks(t)
    )


@rule("template-no-image")
def no_image(plan: Staged) -> Iterator[Hit]:
    yield from _lacking(plan, "image_id", lambda template: template.image_id is None)


@rule("template-no-network")
def no_network(plan: Staged) -> Iterator[Hit]:
    yield from _lacking(plan, "network_id", lambda template: template.network_id is None)


@rule("template-size-unknown")
def size_unknown(plan: Staged) -> Iterator[Hit]:
    yield from _lacking(
        plan, "memory_gib", lambda t: t.most != 0 and positive(t.memory_gib) is None, what="memory"
    )
    yield from _lacking(
        plan, "vcpu", lambda t: t.most != 0 and positive(t.vcpu) is None, what="vCPU"
    )
    yield from _lacking(plan, "most", lambda t: known(t.most) is None, what="the most that may run")


@rule("template-most-zero")
def most_zero(plan: Staged) -> Iterator[Hit]:
    yield from _lacking(plan, "most", lambda template: template.most == 0)


@rule("template-standby-over-most")
def standby_over_most(plan: Staged) -> Iterator[Hit]:
    for template in plan.facts.templates:
        standby, most = known(template.standby), known(template.most)
        if standby is not None and most and standby > most:
            mend = Mend(template.ref, (("standby", str(template.most)),))
            yield Hit(
                template.ref.at("standby"),
                mend=mend,
                also=(template.ref.at("most"),),
                template=template.label,
                standby=template.standby,
                most=template.most,
            )


@rule("template-standby-zero")
def standby_zero(plan: Staged) -> Iterator[Hit]:
    for template in plan.facts.templates:
        if template.standby == 0 and template.most and template.reset_rule in REBUILDS:
            yield Hit(
                template.ref.at("standby"),
                template=template.label,
                rebuilds=REBUILDS[template.reset_rule],
            )


@rule("template-standby-unknown")
def standby_unknown(plan: Staged) -> Iterator[Hit]:
    yield from _lacking(plan, "standby", lambda template: template.standby is None)


def _seats(plan: Staged) -> Iterator[tuple[Template, SeatNeed]]:
    """Templates whose seats ask for more desktops than may run, with what they ask for."""
    for template in plan.facts.templates:
        need = plan.concurrency.of(template.id)
        if need and need.short:
            yield template, need


def _seats_hit(plan: Staged, template: Template, need: SeatNeed) -> Hit:
    people = tuple(
        group.ref.at("people")
        for group in plan.facts.seat_groups
        if group.template_id == template.id
    )
    return Hit(
        template.ref.at("most"),
        mend=Mend(template.ref, (("most", str(need.needed)),)),
        also=people,
        template=template.label,
        most=units.show(need.most),
        needs=units.show(need.needed),
        people=people_words(need.people),
        mean=units.show(need.mean),
        groups=and_list(need.groups),
        chance=chance_words(need.chance_short),
        risk=units.show(100 * plan.concurrency.risk, 4),
    )


@rule("template-most-below-seats")
def most_below_seats(plan: Staged) -> Iterator[Hit]:
    for template, need in _seats(plan):
        if need.below_mean:
            yield _seats_hit(plan, template, need)


@rule("template-most-tight")
def most_tight(plan: Staged) -> Iterator[Hit]:
    for template, need in _seats(plan):
        if not need.below_mean:
            yield _seats_hit(plan, template, need)


@rule("template-most-beyond-seats")
def most_beyond_seats(plan: Staged) -> Iterator[Hit]:
    for need in plan.concurrency.by_template:
        if need.beyond_all:
            yield Hit(
                Ref("template", need.template_id, "most"),
                template=need.name,
                most=units.show(need.most),
                people=people_words(need.people),
                beyond=units.show(need.beyond_all),
            )


@rule("template-reset-unknown")
def reset_unknown(plan: Staged) -> Iterator[Hit]:
    yield from _lacking(plan, "reset_rule", lambda template: not template.reset_rule)


@rule("template-no-profile-place")
def no_profile_place(plan: Staged) -> Iterator[Hit]:
    for template in plan.facts.templates:
        if template.reset_rule in REBUILDS and not template.profile_place.strip():
            yield Hit(
                template.ref.at("profile_place"),
                also=(template.ref.at("reset_rule"),),
                template=template.label,
                rebuilds=REBUILDS[template.reset_rule],
            )


@rule("template-no-seats")
def no_seats(plan: Staged) -> Iterator[Hit]:
    seated = {group.template_id for group in plan.facts.seat_groups}
    yield from _lacking(plan, "", lambda template: template.id not in seated)


@rule("template-name-twice")
def name_twice(plan: Staged) -> Iterator[Hit]:
    first: dict[str, Template] = {}
    for template in plan.facts.templates:
        name = template.name.strip().casefold()
        if name and name in first:
            yield Hit(
                template.ref.at("name"),
                also=(first[name].ref.at("name"),),
                name=template.name.strip(),
            )
        first.setdefault(name, template)


@rule("template-passes-devices")
def passes_devices(plan: Staged) -> Iterator[Hit]:
    for template in plan.facts.templates:
        open_ways = [
            word
            for key, word in ((Passage.DRIVES, "drives"), (Passage.USB, "USB devices"))
            if key in template.passes
        ]
        if open_ways:
            yield Hit(template.ref.at("passes"), template=template.label, what=and_list(open_ways))


@rule("template-no-protocol")
def no_protocol(plan: Staged) -> Iterator[Hit]:
    yield from _lacking(plan, "protocol_id", lambda template: template.protocol_id is None)


@rule("template-growth-unknown")
def growth_unknown(plan: Staged) -> Iterator[Hit]:
    yield from _lacking(plan, "growth_gib", lambda t: t.most != 0 and known(t.growth_gib) is None)


@rule("template-over-32-bit")
def over_32_bit(plan: Staged) -> Iterator[Hit]:
    images = {image.id: image for image in plan.facts.images}
    for template in plan.facts.templates:
        image, memory = images.get(template.image_id or 0), positive(template.memory_gib)
        if image and image.bits == 32 and memory and memory > REACH_OF_32_BITS_GIB:
            reach = units.show(REACH_OF_32_BITS_GIB)
            mend = Mend(template.ref, (("memory_gib", reach),))
            yield Hit(
                template.ref.at("memory_gib"),
                mend=mend,
                also=(image.ref.at("bits"),),
                template=template.label,
                memory=units.show(memory),
                image=image.label,
                reach=reach,
            )
