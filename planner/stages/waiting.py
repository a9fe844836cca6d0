"""Waiting: the engine's times in place of the catalogue's, where they are known."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.engine import recovery
from planner.engine.capacity import known
from planner.facts import Record
from planner.stages.entries import StepEntry

if TYPE_CHECKING:
    from planner.plan import Plan

Minutes = tuple[float, float, float]


class Waits:
    """One site's waiting times in minutes, and how much longer than the engine says they may take."""

    def __init__(self, plan: Plan):
        self.times = recovery.waits(plan.recovery)
        likely = max(1.0, known(plan.numbers["stages.wait-likely"]) or 1.0)
        self.factors = (1.0, likely, max(likely, known(plan.numbers["stages.wait-longest"]) or 1.0))

    def of(self, entry: StepEntry, record: Record | None) -> float | None:
        """The step's waiting time for this record, for the site where it is not the record's; ``None``
        when it has none or nobody can tell."""
        if not entry.wait:
            return None
        own = f"{entry.wait}@{record.ref.anchor}" if record else ""
        return self.times[own] if own in self.times else self.times.get(entry.wait)

    def minutes(self, entry: StepEntry, record: Record | None) -> Minutes:
        """The step's shortest, likely and longest time: what hands need and the wait, else the catalogue's."""
        wait = self.of(entry, record)
        if wait is None:
            return entry.minutes
        shortest, likely, longest = (
            hands + wait * factor for hands, factor in zip(entry.hands, self.factors, strict=True)
        )
        return shortest, likely, longest
