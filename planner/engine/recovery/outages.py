"""Recovery: how long it takes to copy an image, to start everything, to carry on without a host.

Decisions where the facts leave room
- All *most* desktops run, where placement puts them. So many of them are in use as the seat groups
  need at once at the busiest time (:mod:`planner.engine.people.concurrency`); where nobody knows
  that, all but the standby.
- After a power cut all hosts start at the same time, then on each the appliances, then, when every
  appliance is ready, the desktops. Servers that are machines of their own are ready by then; those that are
  guests of the hosts start on them before the appliances (4.2). Switch, firewall and storage come first, and
  whoever must drive there before them: neither is counted.
- When a host goes down its people sign in again: standby desktops on the other hosts first, new ones
  after that, which the other hosts build in even parts. People whose desktops were on other hosts
  notice nothing; nobody signs out.
- An image is replaced by rebuilding every desktop made from it, on the host it runs on.
- How fast disks serve starts is what the array gives at the share of writes of a start; what working
  desktops ask of them at that time is not taken off.

All times are in seconds. They rest on the planning numbers of the site and are shortest times for a
copy: a line that others use is slower. Source: common practice, no source, but where a formula names one.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from planner.catalogue.assumptions import Numbers
from planner.engine.people.concurrency import Concurrency
from planner.engine.placement.capacity import known, positive
from planner.engine.placement.placing import Placement
from planner.engine.recovery import failover, starts
from planner.engine.recovery.failover import Failover
from planner.engine.recovery.starts import ColdStart, Rebuild
from planner.engine.recovery.waves import TOO_LONG
from planner.engine.storage import copying
from planner.engine.storage.copying import Lines
from planner.engine.storage.datastores import Storage
from planner.record.choices import ResetRule
from planner.record.facts import Id, Image, SiteFacts, Template

__all__ = ["ColdStart", "Copy", "Failover", "Rebuild", "Recovery", "waits", "work_out"]


@dataclass(frozen=True, slots=True)
class Copy:
    """One image's way round: ``saving`` a copy where it is, ``in_turn`` host after host, ``at_once`` to all.

    ``gib`` is what is copied: what is used of the image's disk, the whole disk where that is not known.
    """

    image_id: Id
    name: str
    hosts: int
    gib: float | None = None
    saving_seconds: float | None = None
    in_turn_seconds: float | None = None
    at_once_seconds: float | None = None
    missing: tuple[str, ...] = ()
    unchecked: tuple[str, ...] = ()


@dataclass(frozen=True)
class Recovery:
    """All times of a site. ``swaps`` replace an image on every desktop; ``nightly`` is what the reset rule
    rebuilds each night, ``None`` where no template asks for it. ``failovers`` is empty with one host.
    ``desktop_seconds`` is until the first few desktops are built, spread over the hosts."""

    lines: Lines = field(default_factory=Lines)
    copies: tuple[Copy, ...] = ()
    cold_start: ColdStart = field(default_factory=ColdStart)
    failovers: tuple[Failover, ...] = ()
    swaps: tuple[Rebuild, ...] = ()
    nightly: Rebuild | None = None
    desktop_seconds: float | None = None

    def copy(self, image_id: Id | None) -> Copy | None:
        return next((one for one in self.copies if one.image_id == image_id), None)

    @property
    def copying_seconds(self) -> float | None:
        """Until every image is on every host, each copied to all at once; ``None`` when one cannot be told."""
        times = [copy.at_once_seconds for copy in self.copies]
        if None in times or not times:
            return None
        return sum(one or 0.0 for one in times)

    @property
    def worst_failover(self) -> Failover | None:
        """The host whose loss keeps people waiting longest, of those that can be told; of equal ones that with
        which most go without, then by name."""
        told = [one for one in self.failovers if one.seconds is not None]
        return min(
            told, key=lambda one: (-(one.seconds or 0.0), -one.without, one.name), default=None
        )

    @property
    def missing(self) -> tuple[str, ...]:
        """All that somebody must find out before every time can be told."""
        if self.nightly:
            builds = (*self.swaps, self.nightly)
        else:
            builds = self.swaps
        found = [line for copy in self.copies for line in copy.missing]
        found += self.cold_start.missing
        found += [line for down in self.failovers for line in down.missing]
        found += [line for one in builds for line in one.missing]
        return tuple(dict.fromkeys(found))

    @property
    def unchecked(self) -> tuple[str, ...]:
        """What might make things slower, and nobody knows."""
        found = [line for copy in self.copies for line in copy.unchecked]
        return tuple(dict.fromkeys([*found, *self.cold_start.unchecked]))


def work_out(
    facts: SiteFacts,
    numbers: Numbers,
    storage: Storage,
    placement: Placement,
    concurrency: Concurrency,
) -> Recovery:
    """How long everything takes. Never raises; bounded by the number of records, not by what they say."""
    lines = copying.lines(facts, numbers, storage)
    rates = starts.start_rates(facts, numbers, storage)
    builds = starts.build_pace(numbers)
    nightly = [
        template
        for template in facts.templates
        if template.reset_rule == ResetRule.NIGHTLY and template.most != 0
    ]
    return Recovery(
        lines=lines,
        copies=tuple(_copy(image, lines) for image in facts.images),
        cold_start=starts.cold_start(facts, numbers, placement, rates),
        failovers=failover.work_out(facts, numbers, storage, placement, concurrency, builds, rates),
        swaps=tuple(
            starts.rebuild(
                image.label, _templates_of(facts, image), placement, builds, rates, image.id
            )
            for image in facts.images
        ),
        nightly=starts.rebuild("the nightly reset", nightly, placement, builds, rates)
        if nightly
        else None,
        desktop_seconds=starts.first_desktops(placement, builds),
    )


def waits(recovery: Recovery) -> dict[str, float | None]:
    """The waiting times the stages ask for, in minutes, by their names in :mod:`planner.stages.entries`.

    ``image-copy``: the largest copy made where the image is; ``image-to-hosts``: one image to every host
    in turn; each also for one image as ``image-copy@image-3``. ``desktops-start``: until the first desktops are
    ready; ``cold-start``; ``failover``: until the last person works again.
    """
    worst = recovery.worst_failover
    found: dict[str, float | None] = {
        "image-copy": _longest(copy.saving_seconds for copy in recovery.copies),
        "image-to-hosts": _longest(copy.in_turn_seconds for copy in recovery.copies),
        "desktops-start": _minutes(recovery.desktop_seconds),
        "cold-start": _minutes(recovery.cold_start.seconds),
        "failover": _minutes(worst.seconds if worst else None),
    }
    for copy in recovery.copies:
        found[f"image-copy@image-{copy.image_id}"] = _minutes(copy.saving_seconds)
        found[f"image-to-hosts@image-{copy.image_id}"] = _minutes(copy.in_turn_seconds)
    return found


def _longest(times: Iterable[float | None]) -> float | None:
    every = list(times)
    if None in every:
        return None
    return _minutes(max((one or 0.0 for one in every), default=None))


def _minutes(seconds: float | None) -> float | None:
    if seconds is None:
        return None
    return seconds / 60


def _copy(image: Image, lines: Lines) -> Copy:
    used, whole = positive(image.used_gib), positive(image.disk_gib)
    gib, missing, unchecked = used or whole, list(lines.missing), list(lines.unchecked)
    if gib is None:
        missing.append(f"{image.label}: used disk")
    elif used is None:
        unchecked.append(f"{image.label}: used disk; the whole disk was counted")

    def times(seconds_a_gib: float | None) -> float | None:
        if gib is None or seconds_a_gib is None:
            return None
        return known(gib * seconds_a_gib)

    if not missing and times(lines.at_once) is None:
        missing.append(TOO_LONG)

    return Copy(
        image_id=image.id,
        name=image.label,
        hosts=lines.targets,
        gib=gib,
        saving_seconds=times(lines.saving),
        in_turn_seconds=times(lines.in_turn),
        at_once_seconds=times(lines.at_once),
        missing=tuple(dict.fromkeys(missing)),
        unchecked=tuple(dict.fromkeys(unchecked)),
    )


def _templates_of(facts: SiteFacts, image: Image) -> list[Template]:
    return [
        template
        for template in facts.templates
        if template.image_id == image.id and template.most != 0
    ]
