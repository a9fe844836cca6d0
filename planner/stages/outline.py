"""Outlines: a site's steps without their words, for whoever needs only their times and their order."""

from __future__ import annotations

from dataclasses import dataclass

from planner.engine.results import Results
from planner.record.facts import Contact
from planner.stages.choosing import Chooser, Place, site_key
from planner.stages.entries import StepEntry
from planner.stages.own import book_for


@dataclass(frozen=True, slots=True)
class Outline:
    """A step by its key and number: its three times in minutes, what comes before, what it is for, who owns it.

    The same step with its words is ``plan.stages.steps[key]``; filling those costs several times as much.
    """

    key: str
    number: str
    entry: StepEntry
    record: Place
    minutes: tuple[float, float, float]
    after: tuple[str, ...]
    owner: Contact | None = None

    @property
    def stage(self) -> int:
        return self.entry.stage

    @property
    def attended(self) -> bool:
        return self.entry.attended


class Asked(Chooser):
    """What is asked of a site: its checks and steps, and its steps without their words."""

    def __init__(self, plan: Results):
        super().__init__(plan, book_for(plan.facts, plan.numbers))
        self._outlines: dict[int, tuple[Outline, ...]] = {}

    def outlines(self, stage: int) -> tuple[Outline, ...]:
        """The steps of a stage in the order of their numbers."""
        if stage not in self._outlines:
            self._outlines[stage] = tuple(
                self._outline(entry, place, number)
                for entry in self.book.by_stage[stage][1]
                for place, number in self._numbered(entry)
            )
        return self._outlines[stage]

    def _outline(self, entry: StepEntry, place: Place, number: str) -> Outline:
        minutes = self._waits.minutes(entry, place)
        key, after = site_key(entry, place), self.before(entry, place)
        return Outline(key, number, entry, place, minutes, after, self.owners.of(entry))

    def settled(self, one: Outline) -> tuple[str, ...]:
        """The keys of the checks that can be answered once a step is done."""
        checks = (self.book.checks[key] for key in one.entry.settles)
        return tuple(
            site_key(check, place) for check in checks for place in self._beside(check, one.record)
        )
