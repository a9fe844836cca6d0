"""Own checks and steps: what a site and the house ask for beyond the catalogue, made entries like its own.

Decisions
- Numbers of the house's entries begin at 101 in each stage, those of a site's own at 201: the catalogue's numbers
  stay what they are, on paper too, when it grows.
- What a person typed is a text, never a template: braces in it do nothing.
- A step may come after, or before, steps of its own stage and of those that come first. A wish that cannot
  hold (the other step is of a stage on the wrong side, or a circle would close) is passed over, and told by
  :func:`impossible`.
- A step whose times nobody gave takes ``stages.own-step-minutes``; of three times the unknown ones are as the
  nearest known one.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Iterable, Sequence
from typing import Protocol, TypedDict

from planner.catalogue.assumptions import Numbers
from planner.engine.placement.capacity import known
from planner.record import kinds
from planner.record.choices import Answerer, Wanted
from planner.record.facts import OwnCheck, OwnStep, Ref, SiteFacts
from planner.stages.entries import STAGES, Catalogue, CheckEntry, Entry, StepEntry
from planner.stages.filling import Text
from planner.stages.reading import read
from planner.stages.results import AskedBy

HOUSE_FROM, OWN_FROM = 101, 201
NOT_SAID = "Nobody wrote that down."
Minutes = tuple[float, float, float]


def book_for(facts: SiteFacts, numbers: Numbers) -> Catalogue:
    """The catalogue with what the house and the site add to it."""
    usual = known(numbers["stages.own-step-minutes"]) or 1.0
    return _book(facts.house_steps, facts.house_checks, facts.own_steps, facts.own_checks, usual)


@functools.lru_cache(maxsize=64)
def _book(
    house_steps: Sequence[OwnStep],
    house_checks: Sequence[OwnCheck],
    own_steps: Sequence[OwnStep],
    own_checks: Sequence[OwnCheck],
    usual: float,
) -> Catalogue:
    book = read()
    if not (house_steps or house_checks or own_steps or own_checks):
        return book
    checks, steps = dict(book.checks), dict(book.steps)
    for origin, first, of_steps, of_checks in (
        (AskedBy.HOUSE, HOUSE_FROM, house_steps, house_checks),
        (AskedBy.OWN, OWN_FROM, own_steps, own_checks),
    ):
        settling: dict[int | None, list[OwnCheck]] = {}
        stages: dict[int | None, int] = {one.id: stage_of(one) for one in of_steps}
        for check in of_checks:
            if stages.get(check.ownstep_id) == stage_of(check):
                home = check.ownstep_id
            else:
                home = None
            settling.setdefault(home, []).append(check)
        count = dict.fromkeys((one.number for one in STAGES), first)
        for check in settling.get(None, []):
            checks[key_of(check, origin)] = _check(check, origin, count)
        for step in of_steps:
            settles = settling.get(step.id, [])
            steps[key_of(step, origin)] = _step(
                step, origin, count, [key_of(one, origin) for one in settles], usual
            )
            for check in settles:
                checks[key_of(check, origin)] = _check(check, origin, count)
    for key, other, _ in _wishes(house_steps, own_steps, steps)[0]:
        steps[key] = dataclasses.replace(steps[key], after=(*steps[key].after, other))
    return Catalogue(checks, steps)


def key_of(one: OwnStep | OwnCheck, origin: str) -> str:
    """``own@ownstep-5``, ``house@owncheck-3``: what answers and lines of run sheets are kept under."""
    return f"{origin}@{one.ref.anchor}"


def stage_of(one: OwnStep | OwnCheck) -> int:
    return min(max(one.stage, 1), len(STAGES))


class Common(TypedDict):
    """What an own step and an own check have in common, as their entries want it."""

    key: str
    stage: int
    chapter: int
    number: int
    origin: str
    texts: dict[str, Text]
    when: tuple[str, ...]
    ref: Ref | None


def _common(
    one: OwnStep | OwnCheck, origin: str, count: dict[int, int], texts: dict[str, str]
) -> Common:
    stage = stage_of(one)
    number, count[stage] = count[stage], count[stage] + 1
    return {
        "key": key_of(one, origin),
        "stage": stage,
        "chapter": 10,
        "number": number,
        "origin": origin,
        "texts": {name: Text((text,)) for name, text in texts.items()},
        "when": tuple(filter(None, (getattr(one, "when", ""),))),
        "ref": one.ref if origin == AskedBy.OWN else None,
    }


def _step(
    one: OwnStep, origin: str, count: dict[int, int], settles: Iterable[str], usual: float
) -> StepEntry:
    texts = {
        "title": one.label,
        "do": one.do or one.label,
        "expect": one.expect or NOT_SAID,
        "otherwise": one.otherwise or "Stop, and ask whoever added this step.",
        "back": one.back or NOT_SAID,
    }
    if one.caution:
        texts["caution"] = one.caution
    return StepEntry(
        **_common(one, origin, count, texts),
        minutes=three_of(one) or (usual, usual, usual),
        attended=one.attended is not False,
        alone=one.alone is True,
        settles=tuple(settles),
    )


def _check(one: OwnCheck, origin: str, count: dict[int, int]) -> CheckEntry:
    if Wanted.holds(one.wants):
        wants = one.wants
    else:
        wants = Wanted.NOTE
    measured = wants == Wanted.VALUE and bool(one.unit)
    low, high = (one.low, one.high) if measured else (None, None)
    if low is not None and high is not None and low > high:
        low, high = high, low
    texts = {
        "title": one.label,
        "why": one.why,
        "how": one.how,
        "proof": one.proof or "What was seen, by whom.",
    }
    return CheckEntry(
        **_common(one, origin, count, texts),
        wants=wants,
        who=one.who if Answerer.holds(one.who) else Answerer.EDITOR,
        unit=one.unit if measured else "",
        low=low,
        high=high,
    )


class Timed(Protocol):
    """Whatever says how long something takes."""

    @property
    def least_minutes(self) -> float | None: ...

    @property
    def likely_minutes(self) -> float | None: ...

    @property
    def longest_minutes(self) -> float | None: ...


def three_of(one: Timed) -> Minutes | None:
    """The least, likely and longest minutes of whatever has the three, in order; ``None`` when it has none."""
    given = [known(time) for time in (one.least_minutes, one.likely_minutes, one.longest_minutes)]
    least, likely, longest = given
    if likely is None:
        if longest is None:
            likely = least
        elif least is None:
            likely = longest
        else:
            likely = (least + longest) / 2
    if likely is None or likely <= 0:
        return None
    if least is None:
        least = likely
    else:
        least = least
    low, middle, high = sorted((least, likely, likely if longest is None else longest))
    return low, middle, high


# -- what comes before what ----------------------------------------------------------------------

Wish = tuple[str, str, OwnStep]  # the step that waits, the one it waits for, whose wish it is


def impossible(facts: SiteFacts) -> tuple[Wish, ...]:
    """The wishes of own steps that cannot hold."""
    book = _book(facts.house_steps, (), facts.own_steps, (), 1.0)
    return _wishes(facts.house_steps, facts.own_steps, book.steps)[1]


def told(wish: Wish, facts: SiteFacts) -> tuple[str, str, str]:
    """A wish that cannot hold, in words: the step that should wait, the one it should wait for, and why not."""
    steps = _book(facts.house_steps, (), facts.own_steps, (), 1.0).steps
    waits, first = steps[wish[0]], steps[wish[1]]
    if first.stage > waits.stage:
        why = "that one is of a later stage"
    else:
        why = "that one waits for it already"
    numbered = [f"{one.stage}.{one.number} {title_of(one)}" for one in (waits, first)]
    return numbered[0], numbered[1], why


def _wishes(
    house_steps: Sequence[OwnStep], own_steps: Sequence[OwnStep], steps: dict[str, StepEntry]
) -> tuple[list[Wish], tuple[Wish, ...]]:
    """The wishes that hold, in the order they were made, and those that cannot."""
    after = {key: set(read().steps[key].after) if key in read().steps else set() for key in steps}
    held: list[Wish] = []
    refused: list[Wish] = []
    for wish in _wished(house_steps, own_steps):
        key, other, _ = wish
        if key not in steps or other not in steps or other in after[key]:
            continue
        if steps[other].stage > steps[key].stage or _leads_to(other, key, after):
            refused.append(wish)
        else:
            after[key].add(other)
            held.append(wish)
    return held, tuple(refused)


def _wished(house_steps: Sequence[OwnStep], own_steps: Sequence[OwnStep]) -> Iterable[Wish]:
    for origin, found in ((AskedBy.HOUSE, house_steps), (AskedBy.OWN, own_steps)):
        known_ids = {one.id: key_of(one, origin) for one in found}
        for one in found:
            key = key_of(one, origin)
            yield from ((key, other, one) for other in one.after)
            yield from ((key, known_ids[id], one) for id in one.after_own if id in known_ids)
            yield from ((other, key, one) for other in one.before)


def _leads_to(start: str, end: str, after: dict[str, set[str]]) -> bool:
    """Whether ``end`` must come before ``start``, however far back."""
    seen: set[str] = set()
    left = [start]
    while left:
        key = left.pop()
        if key == end:
            return True
        if key not in seen:
            seen.add(key)
            left += after.get(key, ())
    return False


# -- steps by name -------------------------------------------------------------------------------


@functools.lru_cache(maxsize=64)
def _named(house_steps: Sequence[OwnStep]) -> dict[str, tuple[str, str]]:
    found = _book(house_steps, (), (), (), 1.0).steps.values()
    order = sorted(found, key=lambda one: (one.stage, one.number))
    return {one.key: (f"{one.stage}.{one.number}", title_of(one)) for one in order}


def named(facts: SiteFacts) -> dict[str, tuple[str, str]]:
    """Number and title of every step of the catalogue and of the house, by key, in order."""
    return _named(facts.house_steps)


def title_of(entry: Entry) -> str:
    """An entry's title without a site's values."""
    return "".join(part if isinstance(part, str) else "…" for part in entry.texts["title"].parts)


def number_of_entry(number: str) -> str:
    """``3.4`` from ``3.4b``: the number that all of an entry's steps share."""
    return number.rstrip("abcdefghijklmnopqrstuvwxyz")


def words_of(key: str, facts: SiteFacts) -> str:
    """``3.4 Fix … in its place``; the key itself for a step that is no more."""
    number, title = named(facts).get(key, ("", ""))
    if number:
        return f"{number} {title}"
    return key


def number_of(key: str, facts: SiteFacts) -> str:
    """``3.4``; the key itself for a step that is no more."""
    return named(facts).get(key, (key, ""))[0]


def key_named(text: str, facts: SiteFacts) -> str:
    """The key of a step from its number, its key, or its number and title. Raises ``ValueError`` for none."""
    wanted = text.strip()
    for key, (number, title) in named(facts).items():
        if wanted.casefold() in (key, number, title.casefold(), f"{number} {title}".casefold()):
            return key
    raise ValueError(f"“{wanted}” is not the number of a step")


kinds.Step.names.words = words_of
kinds.Step.names.number = number_of
kinds.Step.names.key = key_named
