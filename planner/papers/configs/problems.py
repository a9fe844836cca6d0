"""Which issue of a plan a configuration says, and what had to be left out of it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from planner.papers.configs.words import one_line
from planner.record.facts import Ref


@dataclass(frozen=True, slots=True)
class Edition:
    """Which issue of the plan is written: the day, and the revision's letter ("" for the plan as it stands)."""

    day: dt.date
    revision: str = ""


@dataclass(frozen=True, slots=True)
class Problem:
    """What was left out of a configuration and why, in clean words; ``at`` is where a person would mend it."""

    what: str
    why: str
    at: Ref | None = None

    @property
    def text(self) -> str:
        return f"{self.what}: {self.why}"


def problem(what: str, why: str, at: Ref | None = None) -> Problem:
    """A problem with its words made clean."""
    return Problem(one_line(what, 200), one_line(why, 400), at)
