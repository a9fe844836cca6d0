"""The plan: one site's facts and everything that follows from them."""

from __future__ import annotations

import functools

from planner import review
from planner.record.facts import SiteFacts
from planner.stages.staged import Staged


class Plan(Staged):
    """The facts, every result, the stages and the day, and what does not add up."""

    @functools.cached_property
    def review(self) -> review.Review:
        return review.review(self)

    def everything(self) -> Plan:
        """Works out every room now; what a test or a bench asks for, a page never does."""
        for name in ROOMS:
            getattr(self, name)
        return self


def _rooms() -> tuple[str, ...]:
    """The names of what is worked out, in the order of the rooms."""
    found: dict[str, None] = {}
    for kind in reversed(Plan.mro()):
        for name, room in vars(kind).items():
            if isinstance(room, functools.cached_property):
                found[name] = None
    return tuple(found)


ROOMS = _rooms()


def work_out(facts: SiteFacts, before: Plan | None = None) -> Plan:
    """The plan of one site. What is the same as in the plan ``before`` is taken from there."""
    return Plan(facts, before)
