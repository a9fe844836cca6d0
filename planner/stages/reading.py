"""Reads the catalogue's checks and steps, and finds them whole or says which entry is not."""

from __future__ import annotations

import dataclasses
import functools
import itertools
import math
import tomllib
from collections.abc import Callable
from typing import Any, TypeVar

from planner.catalogue import files as catalogue
from planner.catalogue.files import CatalogueError
from planner.record.choices import Answerer, Wanted
from planner.record.facts import RECORDS
from planner.stages import conditions, filling, states
from planner.stages.bounds import BOUNDS
from planner.stages.entries import (
    STAGES,
    WAITS,
    Catalogue,
    CheckEntry,
    Entry,
    StepEntry,
)

# The texts of an entry: those it must have, those it may have.
TEXTS: dict[type[Entry], tuple[tuple[str, ...], tuple[str, ...]]] = {
    CheckEntry: (("title", "why", "how", "proof"), ("caution", "value", "value_name")),
    StepEntry: (("title", "do", "expect", "otherwise", "back"), ("caution", "value", "value_name")),
}
Kind = TypeVar("Kind", bound=Entry)
LISTS = {
    "when": str,
    "after": str,
    "needs": str,
    "gives": str,
    "takes": str,
    "settles": str,
    "minutes": int | float,
    "hands": int | float,
}


@functools.cache
def read() -> Catalogue:
    """The catalogue. Raises :class:`CatalogueError` that names the file and the key."""
    checks = {
        key: _entry(CheckEntry, "checks", key, values)
        for key, values in catalogue.load("checks").items()
    }
    steps = {
        key: _entry(StepEntry, "steps", key, values)
        for key, values in catalogue.load("steps").items()
    }
    of_site = states.listed()
    steps = states.ordered(steps)
    _refuse_loose_ends(checks, steps)
    _refuse_circles(steps)
    for key, what in states.faults(steps, checks, of_site):
        if key in steps:
            folder = "steps"
        elif key in checks:
            folder = "checks"
        else:
            folder = "states"
        raise _wrong(folder, key, what)
    return _numbered(checks, steps)


def validate() -> None:
    """Reads everything anew. Raises :class:`CatalogueError` when an entry is not whole."""
    catalogue.load.cache_clear()
    states.listed.cache_clear()
    read.__wrapped__()


def _wrong(folder: str, key: str, what: str) -> CatalogueError:
    """An error that says in which file the entry stands."""
    for path in sorted((catalogue.FOLDER / folder).glob("*.toml")):
        if key in tomllib.loads(path.read_text(encoding="utf-8")):
            return CatalogueError(f"{folder}/{path.name}: {key}: {what}")
    return CatalogueError(f"{folder}: {key}: {what}")


def _entry(cls: type[Kind], folder: str, key: str, values: dict[str, Any]) -> Kind:
    def refuse(wrong: bool, what: str) -> None:
        if wrong:
            raise _wrong(folder, key, what)

    values = dict(values)
    values["each"] = values.pop("for", "")
    for name, kind in LISTS.items():
        given = values.get(name, [])
        refuse(
            not isinstance(given, list) or not all(isinstance(one, kind) for one in given),
            f"“{name}” is no list",
        )
        if name in values:
            values[name] = tuple(given)
    needed, allowed = TEXTS[cls]
    texts = {name: values.pop(name) for name in (*needed, *allowed) if name in values}
    for name in (*needed, *texts):
        refuse(
            not isinstance(texts.get(name), str) or not texts[name].strip(), f"“{name}” is missing"
        )
    try:
        entry = cls(key=key, **values)
    except TypeError as error:
        raise _wrong(folder, key, str(error)) from error
    refuse("@" in key, "a key may not hold @")
    refuse(entry.stage not in [one.number for one in STAGES], f"there is no stage {entry.stage}")
    refuse(not 0 <= entry.chapter <= 11, f"there is no chapter {entry.chapter}")
    refuse(bool(entry.each) and entry.each not in RECORDS, f"“{entry.each}” is no kind of record")
    _refuse_conditions(entry, refuse)
    _refuse_own_fields(entry, refuse)
    return dataclasses.replace(
        entry, texts={name: _text(entry, text, refuse) for name, text in texts.items()}
    )


def _text(entry: Entry, template: str, refuse: Callable[[bool, str], None]) -> filling.Text:
    try:
        text = filling.parse(template)
    except ValueError as error:
        refuse(True, str(error))
        raise
    found = filling.unknown(text, entry.each)
    refuse(bool(found), f"the placeholder {found} is not known here")
    return text


def _refuse_conditions(entry: Entry, refuse: Callable[[bool, str], None]) -> None:
    for name in entry.when:
        kind, _ = conditions.OF_RECORD.get(name, ("", None))
        refuse(name not in conditions.OF_SITE and not kind, f"the condition “{name}” is not known")
        refuse(
            kind not in ("", entry.each), f"the condition “{name}” is of a {kind}, the entry is not"
        )


def _refuse_own_fields(entry: Entry, refuse: Callable[[bool, str], None]) -> None:
    if isinstance(entry, CheckEntry):
        refuse(not Wanted.holds(entry.wants), f"“{entry.wants}” cannot be wanted")
        refuse(not Answerer.holds(entry.who), f"“{entry.who}” cannot answer")
        _refuse_range(entry, refuse)
    if isinstance(entry, StepEntry):
        times = entry.minutes
        refuse(not _three(times), "minutes are three, the shortest first")
        refuse(entry.wait not in ("", *WAITS), f"the engine knows no waiting time “{entry.wait}”")
        refuse(bool(entry.wait) != bool(entry.hands), "“hands” stand beside “wait”, and only there")
        refuse(bool(entry.hands) and not _three(entry.hands), "hands are three, the shortest first")
        refuse(not isinstance(entry.attended, bool), "attended is true or false")
        refuse(not isinstance(entry.alone, bool), "alone is true or false")


def _refuse_range(entry: CheckEntry, refuse: Callable[[bool, str], None]) -> None:
    named = (entry.low_from, entry.high_from)
    refuse(
        any(one not in ("", *BOUNDS) for one in named), f"no bound is called {' or '.join(named)}"
    )
    refuse(any(named) and not entry.unit, "a bound from the plan needs a “unit”")
    twice = (entry.low_from and entry.low is not None) or (
        entry.high_from and entry.high is not None
    )
    refuse(bool(twice), "an end is a number or follows from the plan, not both")
    ends = [end for end in (entry.low, entry.high) if end is not None]
    refuse(
        not isinstance(entry.unit, str) or (bool(entry.unit) and entry.wants != Wanted.VALUE),
        "a “unit” stands beside a wanted value",
    )
    refuse(bool(ends) and not entry.unit, "“low” and “high” need a “unit”")
    numbers = all(
        isinstance(end, int | float) and not isinstance(end, bool) and math.isfinite(end)
        for end in ends
    )
    refuse(not numbers or sorted(ends) != ends, "“low” and “high” are numbers, the smaller first")


def _three(times: tuple[float, ...]) -> bool:
    return len(times) == 3 and 0 < times[0] <= times[1] <= times[2]


def _refuse_loose_ends(checks: dict[str, CheckEntry], steps: dict[str, StepEntry]) -> None:
    settled: set[str] = set()
    for step in steps.values():
        for key in step.after:
            if key not in steps:
                raise _wrong("steps", step.key, f"comes after “{key}”, which is no step")
            if steps[key].stage > step.stage:
                raise _wrong("steps", step.key, f"comes after “{key}”, which is of a later stage")
        for key in step.settles:
            if key not in checks or checks[key].stage != step.stage:
                raise _wrong("steps", step.key, f"settles “{key}”, which is no check of its stage")
            if key in settled:
                raise _wrong("steps", step.key, f"settles “{key}”, which another step settles")
            settled.add(key)


def _refuse_circles(steps: dict[str, StepEntry]) -> None:
    """Raises when a step must come after itself, by however long a way round."""
    done: set[str] = set()
    for start in steps:
        way: list[str] = []
        stack = [(start, False)]
        while stack:
            key, left = stack.pop()
            if left:
                done.add(way.pop())
            elif key in way:
                raise _wrong(
                    "steps",
                    key,
                    f"comes after itself: {' after '.join([*way[way.index(key) :], key])}",
                )
            elif key not in done:
                way.append(key)
                stack += [(key, True), *((before, False) for before in steps[key].after)]


def _numbered(checks: dict[str, CheckEntry], steps: dict[str, StepEntry]) -> Catalogue:
    """Gives every entry its number: a step, then the checks it settles; unsettled checks stand first."""
    settled = {key for step in steps.values() for key in step.settles}
    new_checks, new_steps = dict(checks), dict(steps)
    for stage in STAGES:
        count = itertools.count(1)
        first = [
            one.key
            for one in checks.values()
            if one.stage == stage.number and one.key not in settled
        ]
        for key in first:
            new_checks[key] = dataclasses.replace(checks[key], number=next(count))
        for step in [one for one in steps.values() if one.stage == stage.number]:
            new_steps[step.key] = dataclasses.replace(step, number=next(count))
            for key in sorted(step.settles, key=list(checks).index):
                new_checks[key] = dataclasses.replace(checks[key], number=next(count))
    return Catalogue(new_checks, new_steps)
