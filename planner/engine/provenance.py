"""What a result rests on: facts, formula and source from the catalogue, and the numbers behind it: those its room
asked for, and those of the rooms whose results it reads."""

from __future__ import annotations

import functools
from dataclasses import dataclass

from planner.catalogue import files as catalogue
from planner.catalogue.assumptions import Assumption
from planner.catalogue.sections import Section, section
from planner.engine.results import Results


@dataclass(frozen=True, slots=True)
class Rest:
    """One room's entry: ``facts`` it reads, ``how`` it works them out, ``source`` of the formula.

    ``section`` is where chapter 8 shows it; ``part`` tells it from others there, "" where it is the only one.
    """

    room: str
    section: Section
    facts: str
    how: str
    source: str
    part: str = ""


@dataclass(frozen=True, slots=True)
class Rests:
    """A room's entry with the planning numbers in force that its result rests on."""

    entry: Rest
    numbers: tuple[Assumption, ...]


@functools.cache
def listed() -> dict[str, Rest]:
    """Every room's entry. Raises CatalogueError when one is not whole."""
    found = {}
    for room, values in catalogue.load("rests").items():
        try:
            found[room] = Rest(room=room, **values | {"section": section(values["section"])})
        except (TypeError, KeyError) as error:
            raise catalogue.CatalogueError(f"rests: {room}: {error}") from error
    return found


def rests_of(plan: Results, room: str) -> Rests:
    """What a room's result rests on; the room is worked out if it is not yet."""
    getattr(plan, room)
    keys = plan.numbers.behind(room)
    return Rests(listed()[room], tuple(plan.numbers.all[key] for key in keys))


def uses(plan: Results) -> dict[str, list[Rest]]:
    """Where each planning number matters: the rooms of chapter 8 that rest on it, by the number's key."""
    found: dict[str, list[Rest]] = {}
    for room, entry in listed().items():
        for one in rests_of(plan, room).numbers:
            found.setdefault(one.key, []).append(entry)
    return found
