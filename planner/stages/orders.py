"""Whether one site's steps can be carried out: what their states say, record by record.

The order of a site's steps follows from the catalogue's entries and from what its records refer to. Here the same
states are looked at once more, each for the record it is of, so that an order that was lost on the way is found.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from planner.engine.results import Results
from planner.record.facts import Record, Ref
from planner.stages import states
from planner.stages.choosing import Place
from planner.stages.entries import STAGES
from planner.stages.outline import Asked, Outline
from planner.stages.states import StateEntry

One = tuple[str, Ref | None]  # a state of one record


class Orders(Asked):
    """A site's steps with the states of its records that each needs, gives and takes."""

    def __init__(self, plan: Results):
        super().__init__(plan)
        self.states = states.listed()
        self.there = {key: self._there(state) for key, state in self.states.items()}
        self.by_key = {one.key: one for stage in STAGES for one in self.outlines(stage.number)}

    def of(self, one: Outline, names: Iterable[str]) -> set[One]:
        """These states, of the records that a step has to do with."""
        return {
            (name, place.ref if place else None)
            for name in names
            for place in self._meant(self.states[name], one.record)
        }

    def _there(self, state: StateEntry) -> list[Place]:
        return self.places(state.each, state.when)

    def _meant(self, state: StateEntry, record: Record | None) -> list[Place]:
        return self.belonging(state.each, self.there[state.key], record)


def faults(plan: Results) -> list[str]:
    """Why the steps of a site cannot be carried out as they stand, in words; [] when they can."""
    orders = Orders(plan)
    before = {key: states.coming_before(key, orders.by_key) for key in orders.by_key}
    circles = [f"{key} comes after itself" for key, found in before.items() if key in found]
    return circles or [*_needs(orders, before), *_takes(orders, before), *_vain(orders)]


def _needs(orders: Orders, before: Mapping[str, set[str]]) -> Iterator[str]:
    """Needs that nobody gives, and givers that a step does not wait for."""
    giving: dict[One, list[str]] = {}
    for key, step in orders.by_key.items():
        for one in orders.of(step, states.given_for_good(step.entry)):
            giving.setdefault(one, []).append(key)
    for key, step in orders.by_key.items():
        for one in orders.of(step, step.entry.needs):
            if one not in giving and not orders.states[one[0]].holds:
                yield f"{key} needs {_words(one)}, which no step gives"
            for other in giving.get(one, ()):
                if other not in before[key]:
                    yield f"{key} needs {_words(one)} and does not wait for {other}"


def _takes(orders: Orders, before: Mapping[str, set[str]]) -> Iterator[str]:
    """What is taken while another relies on it."""
    needing: dict[One, list[str]] = {}
    for key, step in orders.by_key.items():
        for one in orders.of(step, step.entry.needs):
            needing.setdefault(one, []).append(key)
    for key, step in orders.by_key.items():
        for one in orders.of(step, states.taken_for_good(step.entry)):
            for other in set(needing.get(one, ())) - before[key] - {key}:
                yield f"{key} takes {_words(one)} and does not wait for {other}"
        for one in () if step.entry.alone else orders.of(step, states.taken_a_while(step.entry)):
            for other in set(needing.get(one, ())) - before[key] - {key}:
                if key not in before[other]:
                    yield f"{key} takes {_words(one)} while {other} may rely on it"


def _vain(orders: Orders) -> Iterator[str]:
    awaited = {key for step in orders.by_key.values() for key in step.after}
    for key, step in orders.by_key.items():
        ends = step.entry.origin or any(orders.states[name].end for name in step.entry.gives)
        if key not in awaited and not ends:
            yield f"{key} is waited for by nothing, and is no end in itself"


def _words(one: One) -> str:
    name, ref = one
    if ref:
        return f"“{name}” of {ref.anchor}"
    return f"“{name}”"
