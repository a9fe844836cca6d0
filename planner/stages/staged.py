"""Staged: a site's results with the stages that follow from them, and the day they are carried out on."""

from __future__ import annotations

import functools

from planner import stages
from planner.engine.results import Results
from planner.stages import confirmed, day
from planner.stages.outline import Asked


class Staged(Results):
    """Results, and what must be done about them. This is what the rules of the review look at."""

    UNSAID = (*Results.UNSAID, "asked")

    @functools.cached_property
    def asked(self) -> Asked:
        """What is asked of the site, whatever was answered."""
        return Asked(self)

    @functools.cached_property
    def stages(self) -> stages.Stages:
        return stages.work_out(self.facts, self.asked)

    @functools.cached_property
    def confirmed(self) -> tuple[confirmed.Confirmation, ...]:
        return confirmed.confirmed(self, self.stages)

    @functools.cached_property
    def day(self) -> day.Day:
        return day.work_out(self, self.asked, self.stages)
