"""Findings about golden images: what they hold, how long they last, which clock they keep."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from collections.abc import Callable, Iterator

from planner.engine.placement.capacity import positive
from planner.record import units
from planner.record.facts import Image, Template
from planner.review import activation, applications  # noqa: F401  (their rules are of this chapter too)
from planner.review.base import Hit, Mend, rule
from planner.stages.staged import Staged


@rule("image-none")
def none(plan: Staged) -> Iterator[Hit]:
    if not plan.facts.images:
        yield Hit(plan.facts.site.ref)


def _lacking(plan: Staged, field: str, lacks: Callable[[Image], bool]) -> Iterator[Hit]:
    """A hit for every image that lacks something, at the field to fill."""
    return (
        Hit(image.ref.at(field), image=image.label) for image in plan.facts.images if lacks(image)
    )


def _templates(plan: Staged, image: Image) -> list[Template]:
    return [template for template in plan.facts.templates if template.image_id == image.id]


@rule("image-unused")
def unused(plan: Staged) -> Iterator[Hit]:
    if plan.facts.templates:
        yield from _lacking(plan, "", lambda image: not _templates(plan, image))


@rule("image-name-twice")
def name_twice(plan: Staged) -> Iterator[Hit]:
    first: dict[tuple[str, int | None], Image] = {}
    for image in plan.facts.images:
        key = (image.name.strip().casefold(), image.generation)
        if key[0] and key in first:
            yield Hit(
                image.ref.at("name"), also=(first[key].ref.at("name"),), name=image.name.strip()
            )
        first.setdefault(key, image)


@rule("image-system-unknown")
def system_unknown(plan: Staged) -> Iterator[Hit]:
    yield from _lacking(plan, "operating_system", lambda image: not image.operating_system.strip())


@rule("image-disk-unknown")
def disk_unknown(plan: Staged) -> Iterator[Hit]:
    yield from _lacking(plan, "disk_gib", lambda image: positive(image.disk_gib) is None)


@rule("image-used-over-disk")
def used_over_disk(plan: Staged) -> Iterator[Hit]:
    for image in plan.facts.images:
        disk, used = positive(image.disk_gib), positive(image.used_gib)
        if disk and used and used > disk:
            yield Hit(
                image.ref.at("used_gib"),
                also=(image.ref.at("disk_gib"),),
                image=image.label,
                used=units.show(used),
                disk=units.show(disk),
            )


@rule("image-from-machine")
def from_machine(plan: Staged) -> Iterator[Hit]:
    for image in plan.facts.images:
        machine = image.source_machine.strip()
        if machine:
            yield Hit(image.ref.at("source_machine"), image=image.label, machine=machine)


@rule("image-not-sealed")
def not_sealed(plan: Staged) -> Iterator[Hit]:
    on_site, today = plan.facts.site.on_site_date, plan.facts.today
    if on_site is None or (on_site - today).days > plan.numbers["image.seal-days"]:
        return
    away = (on_site - today).days
    if away > 1:
        when = f"in {away} days"
    else:
        when = {1: "tomorrow", 0: "today"}.get(away, "over")
    for image in plan.facts.images:
        if image.sealed_on is None and _templates(plan, image):
            yield Hit(
                image.ref.at("sealed_on"), image=image.label, day=on_site.isoformat(), when=when
            )


# -- Support --------------------------------------------------------------------------------------


def _from(plan: Staged) -> dt.date:
    """The day support is counted from: go-live, or today when that is later or nobody set it."""
    return max(plan.facts.site.go_live_date or plan.facts.today, plan.facts.today)


@rule("image-support-ended")
def support_ended(plan: Staged) -> Iterator[Hit]:
    start = _from(plan)
    for image in plan.facts.images:
        if image.support_ends is not None and image.support_ends < start:
            if start == plan.facts.today:
                what = "today"
            else:
                what = f"go-live, {start.isoformat()}"
            yield Hit(
                image.ref.at("support_ends"),
                image=image.label,
                ends=image.support_ends.isoformat(),
                start=what,
            )


@rule("image-support-ends-soon")
def support_ends_soon(plan: Staged) -> Iterator[Hit]:
    start, wanted = _from(plan), plan.numbers["image.support-days"]
    for image in plan.facts.images:
        if image.support_ends is not None and 0 <= (image.support_ends - start).days < wanted:
            yield Hit(
                image.ref.at("support_ends"),
                image=image.label,
                ends=image.support_ends.isoformat(),
                days=(image.support_ends - start).days,
                wanted=units.show(wanted),
            )


@rule("image-support-unknown")
def support_unknown(plan: Staged) -> Iterator[Hit]:
    """Silent where a published end is known: another rule offers to write that one in."""
    yield from _lacking(
        plan,
        "support_ends",
        lambda image: image.support_ends is None and not _published_end(plan, image),
    )


def _published_end(plan: Staged, image: Image) -> bool:
    found = plan.lifecycles.of(image.id)
    return found is not None and found.published is not None


# -- Clocks ---------------------------------------------------------------------------------------


def _apart(plan: Staged, zone: str) -> bool:
    """Whether a zone's clocks differ from the site's at some time in the year from today. Zones nobody
    knows are compared by name."""
    here = plan.facts.site.time_zone.strip()
    if not here or not zone.strip() or here.casefold() == zone.strip().casefold():
        return False
    try:
        ours, theirs = zoneinfo.ZoneInfo(here), zoneinfo.ZoneInfo(zone.strip())
    except (ValueError, OSError, zoneinfo.ZoneInfoNotFoundError):
        return True
    start = dt.datetime.combine(plan.facts.today, dt.time(12)).replace(
        year=min(plan.facts.today.year, 9998)
    )
    times = [start + dt.timedelta(days=7 * week) for week in range(52)]
    return any(
        time.replace(tzinfo=ours).utcoffset() != time.replace(tzinfo=theirs).utcoffset()
        for time in times
    )


@rule("image-time-zone-apart")
def time_zone_apart(plan: Staged) -> Iterator[Hit]:
    site = plan.facts.site
    for image in plan.facts.images:
        if _apart(plan, image.time_zone):
            yield Hit(
                image.ref.at("time_zone"),
                mend=Mend(image.ref, (("time_zone", site.time_zone),)),
                also=(site.ref.at("time_zone"),),
                image=image.label,
                zone=image.time_zone,
                here=site.time_zone,
            )


@rule("directory-time-zone-apart")
def directory_time_zone_apart(plan: Staged) -> Iterator[Hit]:
    directory, site = plan.facts.directory, plan.facts.site
    if _apart(plan, directory.time_zone):
        yield Hit(
            directory.ref.at("time_zone"),
            also=(site.ref.at("time_zone"),),
            directory=directory.label,
            zone=directory.time_zone,
            here=site.time_zone,
        )
