"""What can never be true of a step, of its plan, or of a check, one field held against another."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping

from planner.record.choices import Wanted

TIMES = ("least_minutes", "likely_minutes", "longest_minutes")


def refusals(kind: str, values: Mapping) -> Iterator[tuple[str, str]]:
    """Fields and what is wrong with them, for a record of any kind."""
    if kind in ("ownstep", "stepplan"):
        yield from of_times(values)
    if kind == "stepplan" and not values.get("step") and any(values.values()):
        yield "step", "Say which step, by its number."
    if kind == "owncheck":
        yield from of_range(values)


def of_times(values: Mapping) -> Iterator[tuple[str, str]]:
    """Three times are in order, and the likely one is more than nothing."""
    given = [(name, values[name]) for name in TIMES if values.get(name) is not None]
    for (_, before), (name, after) in itertools.pairwise(given):
        if after < before:
            yield name, "The shortest time comes first, the longest last."
    if values.get("likely_minutes") == 0:
        yield "likely_minutes", "Give more than 0 minutes."


def of_range(values: Mapping) -> Iterator[tuple[str, str]]:
    """A range is of a measured value, the smaller end first."""
    low, high = values.get("low"), values.get("high")
    if low is not None and high is not None and low > high:
        yield "high", "The smaller number comes first."
    if (low is not None or high is not None) and not values.get("unit"):
        yield "unit", "A range needs its unit."
    if values.get("unit") and values.get("wants") not in (Wanted.VALUE, None):
        yield "wants", "A unit goes with a value read."
