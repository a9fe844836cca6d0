"""Waiting: the engine's times in place of the catalogue's, where they are known."""

from __future__ import annotations

from planner.engine.placement.capacity import known
from planner.engine.recovery import outages as recovery
from planner.engine.results import Results
from planner.record.facts import Record
from planner.stages.entries import StepEntry
from planner.stages.own import Minutes, three_of
from planner.stages.results import TimesFrom


class Waits:
    """One site's waiting times in minutes, how much longer than the engine says they may take, and the times that
    the site or the house gave in place of the catalogue's."""

    def __init__(self, plan: Results):
        self.times = recovery.waits(plan.recovery)
        likely = max(1.0, known(plan.numbers["stages.wait-likely"]) or 1.0)
        self.factors = (1.0, likely, max(likely, known(plan.numbers["stages.wait-longest"]) or 1.0))

        plans = {one.step: three_of(one) for one in plan.facts.step_plans}
        self.here = {key: times for key, times in plans.items() if times}
        given = {one.step: three_of(one) for one in plan.facts.estimates}
        self.house = {key: times for key, times in given.items() if times}

    def of(self, entry: StepEntry, record: Record | None) -> float | None:
        """The step's waiting time for this record, for the site where it is not the record's; ``None``
        when it has none or nobody can tell."""
        if not entry.wait:
            return None
        if record:
            own = f"{entry.wait}@{record.ref.anchor}"
        else:
            own = ""
        if own in self.times:
            return self.times[own]
        return self.times.get(entry.wait)

    def minutes(self, entry: StepEntry, record: Record | None) -> Minutes:
        """The step's shortest, likely and longest time.

        The site's own word counts first. Then, for a step with a wait, what hands need (by the house, else by
        the catalogue) and the engine's wait beside it; for any other, the house's times, else the catalogue's.
        """
        if entry.key in self.here:
            return self.here[entry.key]
        if not entry.wait:
            return self.house.get(entry.key, entry.minutes)
        wait = self.of(entry, record)
        if wait is None:
            return entry.minutes
        low, middle, high = self.house.get(entry.key, entry.hands)
        first, second, third = self.factors
        return low + wait * first, middle + wait * second, high + wait * third

    def origin(self, entry: StepEntry, record: Record | None) -> str:
        """Where a step's minutes come from: ``site``, ``house``, ``engine``, or "" for the catalogue."""
        if entry.key in self.here:
            return TimesFrom.SITE
        if entry.wait and self.of(entry, record) is None:
            return ""
        if entry.key in self.house:
            return TimesFrom.HOUSE
        if entry.wait:
            return TimesFrom.ENGINE
        return ""
