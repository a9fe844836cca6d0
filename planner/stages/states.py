"""States of the site, and the order that follows from them.

``fixtures/catalogue/states.toml`` has them; every step says which it ``needs``, ``gives`` and ``takes``, every check
which it ``shows``.

Decisions
- A step comes after every step that gives what it needs.
- Who takes a state and does not give it back comes after every step that needs it. Who gives it back takes it for
  as long as it lasts: nobody who needs it may then run beside it, so it is ``alone`` or stands in order with each.
- Which records' steps are meant follows from what the records refer to, as for every step that comes after another.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from planner.catalogue import files as catalogue
from planner.catalogue.files import CatalogueError
from planner.record.facts import RECORDS
from planner.stages import conditions
from planner.stages.entries import CheckEntry, StepEntry

Fault = tuple[str, str]  # the key of the step or check, and what is wrong with it


@dataclass(frozen=True, slots=True, kw_only=True)
class StateEntry:
    """Something that is so at a site: ``words`` say what, ``each`` (``of`` in the file) of which kind of record.

    ``when`` are the conditions under which there is such a state at all. ``holds`` is true at the beginning;
    ``proof``: whoever needs it waits for the check that shows it; ``live``: nobody depends on the site before it is
    so; ``end`` says why nothing need wait for it.
    """

    key: str
    words: str
    each: str = ""
    when: tuple[str, ...] = ()
    holds: bool = False
    proof: bool = False
    live: bool = False
    end: str = ""


@functools.cache
def listed() -> dict[str, StateEntry]:
    """The states by key. Raises :class:`CatalogueError` when one is not whole."""
    return {key: _state(key, values) for key, values in catalogue.load("states").items()}


def _state(key: str, values: dict[str, Any]) -> StateEntry:
    values = dict(values)
    values["each"] = values.pop("of", "")
    values["when"] = tuple(values.get("when", ()))
    try:
        state = StateEntry(key=key, **values)
    except TypeError as error:
        raise CatalogueError(f"states.toml: {key}: {error}") from error
    if state.each and state.each not in RECORDS:
        raise CatalogueError(f"states.toml: {key}: “{state.each}” is no kind of record")
    for name in state.when:
        if name in conditions.OF_RECORD:
            kind = conditions.OF_RECORD[name][0]
        else:
            kind = ""
        if name not in conditions.OF_SITE and kind != (state.each or None):
            raise CatalogueError(f"states.toml: {key}: the condition “{name}” is not known here")
    return state


def ordered(steps: Mapping[str, StepEntry]) -> dict[str, StepEntry]:
    """The steps, each with all that comes before it: what is written, then what follows from the states."""
    giving, needing = _by_state(steps, given_for_good), _by_state(steps, _needed)
    found = {}
    for key, step in steps.items():
        follows = [other for state in step.needs for other in giving.get(state, ())]
        follows += [other for state in taken_for_good(step) for other in needing.get(state, ())]
        after = dict.fromkeys((*step.after, *(other for other in follows if other != key)))
        found[key] = dataclasses.replace(step, after=tuple(after))
    return found


def given_for_good(step: StepEntry) -> Iterator[str]:
    """What a step makes, apart from what it took before."""
    return (state for state in step.gives if state not in step.takes)


def taken_for_good(step: StepEntry) -> Iterator[str]:
    return (state for state in step.takes if state not in step.gives)


def taken_a_while(step: StepEntry) -> Iterator[str]:
    return (state for state in step.takes if state in step.gives)


def _needed(step: StepEntry) -> Iterable[str]:
    return step.needs


def _by_state(
    steps: Mapping[str, StepEntry], named: Callable[[StepEntry], Iterable[str]]
) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for key, step in steps.items():
        for state in named(step):
            found.setdefault(state, []).append(key)
    return found


# -- Faults --------------------------------------------------------------------------------------


def faults(
    steps: Mapping[str, StepEntry],
    checks: Mapping[str, CheckEntry],
    states: Mapping[str, StateEntry],
) -> Iterator[Fault]:
    """What is wrong with the steps and their states; ``steps`` as :func:`ordered` makes them, without a circle."""
    named = [state for step in steps.values() for state in (*step.needs, *step.gives, *step.takes)]
    for step in steps.values():
        for state in (*step.needs, *step.gives, *step.takes):
            if state not in states:
                yield step.key, f"names the state “{state}”, which is not known"
    for unused in sorted(set(states) - set(named)):
        yield unused, "is a state that no step names"
    yield from _unmet(steps, states)
    yield from _taken_beside(steps)
    yield from _in_vain(steps, states)
    yield from _shown(steps, checks)


def _unmet(steps: Mapping[str, StepEntry], states: Mapping[str, StateEntry]) -> Iterator[Fault]:
    given = {state for step in steps.values() for state in given_for_good(step)}
    for step in steps.values():
        for state in step.needs:
            if state in states and not states[state].holds and state not in given:
                yield step.key, f"needs “{state}”, which no step gives"


def _taken_beside(steps: Mapping[str, StepEntry]) -> Iterator[Fault]:
    """Steps that take a state for a while, though one that needs it may run at the same time."""
    before = {key: coming_before(key, steps) for key in steps}
    for step in steps.values():
        for state in () if step.alone else taken_a_while(step):
            for other in steps.values():
                beside = other.key not in before[step.key] and step.key not in before[other.key]
                if other is not step and state in other.needs and beside:
                    yield step.key, f"takes “{state}” while “{other.key}” may rely on it"


class Ordered(Protocol):
    """Whatever says which steps come directly before it."""

    @property
    def after(self) -> tuple[str, ...]: ...


def coming_before(key: str, steps: Mapping[str, Ordered]) -> set[str]:
    """The keys of all steps before this one, however far back."""
    found: set[str] = set()
    left = list(steps[key].after)
    while left:
        other = left.pop()
        if other not in found:
            found.add(other)
            left += steps[other].after
    return found


def _in_vain(steps: Mapping[str, StepEntry], states: Mapping[str, StateEntry]) -> Iterator[Fault]:
    awaited = {key for step in steps.values() for key in step.after}
    for step in steps.values():
        ends = any(state in states and states[state].end for state in step.gives)
        if not step.gives:
            yield step.key, "gives no state"
        elif step.key not in awaited and not ends:
            yield step.key, "is waited for by nothing, and is no end in itself"


def _shown(steps: Mapping[str, StepEntry], checks: Mapping[str, CheckEntry]) -> Iterator[Fault]:
    for step in steps.values():
        for key in step.settles:
            shows = checks[key].shows
            if shows and shows not in step.gives:
                yield key, f"shows “{shows}”, which the step that settles it does not give"
