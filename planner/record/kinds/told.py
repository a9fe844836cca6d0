"""Kinds whose words are known further up the house: steps, and what a built value belongs to.

What a step is called stands in the catalogue, what a built value stands beside is worked out from the chapters. Who
knows it gives it here once, when it is imported (:mod:`planner.stages.own`, :mod:`planner.comparing.as_built`).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from planner.record.facts import Record, SiteFacts
from planner.record.kinds.base import Described, Kind, parts

NO_STEP = "Give the number of a step, such as 3.4."


class StepNames:
    """How steps are called. :mod:`planner.stages.own` sets all three."""

    words: Callable[[str, SiteFacts], str]
    number: Callable[[str, SiteFacts], str]
    key: Callable[[str, SiteFacts], str]  # raises ValueError for the name of none


class Step(Kind):
    """A step of the catalogue, the house or the site, kept by its key."""

    word = "step"
    names = StepNames()

    def show(self, field: Described, value: Any, facts: SiteFacts) -> str:
        return self.names.words(value, facts)

    def written(self, field: Described, value: Any, facts: SiteFacts) -> str:
        return self.names.number(value, facts)

    def read(self, field: Described, text: str, facts: SiteFacts) -> str:
        try:
            return self.names.key(text, facts)
        except ValueError as error:
            raise ValueError(NO_STEP) from error


class Steps(Kind):
    """Several steps."""

    word = "steps"
    several = True

    def show(self, field: Described, value: Any, facts: SiteFacts) -> str:
        return ", ".join(Step.names.words(key, facts) for key in value)

    def written(self, field: Described, value: Any, facts: SiteFacts) -> str:
        return ", ".join(Step.names.number(key, facts) for key in value)

    def entered(self, field: Described, value: Any, facts: SiteFacts) -> str:
        return self.written(field, value, facts)

    def read(self, field: Described, text: str, facts: SiteFacts) -> tuple[str, ...]:
        found = []
        for part in parts(text):
            try:
                found.append(Step.names.key(part, facts))
            except ValueError as error:
                raise ValueError(f"“{part}”: {NO_STEP}") from error
        return tuple(found)


class OfBuilt(Kind):
    """What a built value belongs to. ``beside`` tells it of a record, ``alone`` of a value by itself."""

    beside: Callable[[Record, SiteFacts], str]
    alone: Callable[[str, SiteFacts], str]

    def show_of(self, record: Record, facts: SiteFacts) -> str:
        return type(self).beside(record, facts)

    def show(self, field: Described, value: Any, facts: SiteFacts) -> str:
        return type(self).alone(str(value), facts)


class AnyRecord(OfBuilt):
    """A record of any kind, by its anchor."""

    word = "any-record"
    shape = {"pattern": "^[a-z]+-[0-9]+$"}


class AnyField(OfBuilt):
    """A field of that record, by its name."""

    word = "any-field"


class Planned(OfBuilt):
    """What the plan says of it. Nobody types it."""

    word = "planned"
    plain = True
