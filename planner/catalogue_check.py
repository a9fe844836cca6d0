"""Whether the catalogue is whole: every file is read, and every entry has what it names."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from planner import review, stages
from planner.catalogue import assumptions, sections
from planner.catalogue.files import CatalogueError
from planner.engine import provenance as rests
from planner.engine.upkeep import lifecycles
from planner.record import chapters
from planner.stages import pilot


def faults() -> list[str]:
    """Everything that is wrong in the catalogue, in words that name file and entry; [] when it is whole."""
    found = []
    for part in (
        assumptions.listed,
        sections.listed,
        rests.listed,
        lifecycles.listed,
        stages.validate,
        pilot.listed,
        _findings,
    ):
        found += _fault(part)
    return found


def _fault(part: Callable[[], object]) -> list[str]:
    try:
        part()
    except CatalogueError as error:
        return [str(error)]
    return []


def _findings() -> None:
    for fault in _unmatched():
        raise CatalogueError(fault)


def _unmatched() -> Iterator[str]:
    """Rules without words, words without a rule, and chapters that are not there."""
    entries = review.entries()
    for key in sorted(set(review.RULES) - set(entries)):
        yield f"findings: the rule {key} has no entry"
    for key in sorted(set(entries) - set(review.RULES)):
        yield f"findings: {key} has no rule"
    for key, entry in entries.items():
        if entry.chapter not in chapters.BY_NUMBER:
            yield f"findings: {key}: there is no chapter {entry.chapter}"
