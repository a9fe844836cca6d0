"""What the stages of one site are: stages, their checks with answers, their steps, their gates."""

from __future__ import annotations

import functools
import typing
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Annotated

from planner.record import units
from planner.record.choices import Answerer, AnswerState, Choice, Wanted
from planner.record.facts import Answer, Ref, Signature

SHORT = 300  # letters of a value that a sentence tells
SAID = (AnswerState.PROVEN, AnswerState.TRUST, AnswerState.EXCUSED)  # what lets the work go on


class AskedBy(Choice):
    """Who asks for a check or a step; "" is the catalogue."""

    HOUSE = "house", "asked by your house"
    OWN = "own", "asked at this site alone"


class TimesFrom(Choice):
    """Where a step's minutes come from; "" is the catalogue."""

    SITE = "site", "set here"
    HOUSE = "house", "by your house"
    ENGINE = "engine", "worked out from the sizes and the line"


class GateState(Choice):
    OPEN = "open", "ready to sign"
    SHUT = "shut"
    SIGNED = "signed"
    REOPENED = "reopened", "open again"  # signed, and something stands in the way again


@dataclass(frozen=True, slots=True)
class SiteCheck:
    """A thing that must be true here, with the site's values in its words and its newest answer.

    ``key`` is the catalogue's key, with ``@`` and the record's anchor where there is one for each
    record (``host-reachable@host-12``); an own check's is ``own@owncheck-5``. ``ref`` is the record,
    or the field, the check speaks of. ``value`` are the facts an answer holds for. With a ``value_name`` it
    is one value to show large (as typed, to be copied), "" when nobody knows it; without one it is words to be
    watched, never "". ``wants`` is
    the kind of proof; a value with a ``unit`` is a number, and may be from ``low``
    to ``high``. ``who`` is the least role that may answer. ``origin`` is ``house`` or ``own`` for a check beyond the
    catalogue's.
    """

    kind: typing.ClassVar[str] = "check"
    key: str
    stage: int
    number: str
    title: str
    why: str
    how: str
    proof: str
    wants: Annotated[str, Wanted]
    chapter: int
    answer: Answer
    ref: Ref | None = None
    who: Annotated[str, Answerer] = Answerer.EDITOR
    caution: str = ""
    source: str = ""
    value: str = ""
    value_name: str = ""
    origin: Annotated[str, AskedBy] = ""
    unit: str = ""
    low: float | None = None
    high: float | None = None

    @property
    def asked_by(self) -> str:
        """Who asks for a check beyond the catalogue's, in words."""
        return AskedBy.words_of(self.origin)

    @property
    def state(self) -> str:
        """The newest answer's; open again once the value it was given for is no longer the plan's."""
        if self.moved:
            return AnswerState.OPEN
        return self.answer.state

    @property
    def moved(self) -> bool:
        """Somebody said yes, with proof or on trust, to another value than the plan has now.

        A check that is no longer asked (it has no number) keeps its answer as it was, and so does one whose
        answer is older than the keeping of its value.
        """
        return self._said_yes and not self.unwatched and self.answer.value != self.value

    @property
    def unwatched(self) -> bool:
        """Somebody said yes before the value of this check was kept: no change since then can be seen."""
        before = self.answer.value is None or (not self.value_name and not self.answer.value)
        return self._said_yes and bool(self.value) and before

    @property
    def _said_yes(self) -> bool:
        yes = self.answer.state in (AnswerState.PROVEN, AnswerState.TRUST)
        return bool(self.number) and yes and (self.answer.value is not None or bool(self.value))

    @property
    def shown_value(self) -> str:
        """The one value to copy; "" where the facts are only watched."""
        if self.value_name:
            return self.value
        return ""

    @property
    def moved_words(self) -> str:
        """``proven for 10.44.1.31, the plan says 10.44.1.32 now``; "" while nothing has moved."""
        if not self.moved:
            return ""
        said = AnswerState.words_of(self.answer.state)
        if self.answer.value:
            was = f"for {_short(self.answer.value)}"
        else:
            was = "before the plan had a value"
        return f"{said} {was}, the plan says {_short(self.value) or 'nothing'} now"

    @property
    def range_words(self) -> str:
        """What a measured value may be, in words; "" for anything."""
        return units.show_range(self.low, self.high, self.unit)


def _short(text: str) -> str:
    """Facts in words for a sentence; of a whole page of them the beginning."""
    flat = " ".join(text.split())
    if len(flat) <= SHORT:
        return flat
    return f"{flat[: SHORT - 1].rstrip()}…"


@dataclass(frozen=True, slots=True)
class SiteStep:
    """A thing that somebody does, with the site's values in its words.

    ``minutes`` are the shortest, the likely and the longest time; ``wait`` names the engine's waiting
    time in them, which alone is ``wait_minutes``, ``None`` where nobody can tell it: then the minutes are
    the catalogue's. ``alone``: nothing else runs beside it. ``after`` are the keys of the steps that must be
    done before, ``settles`` those of the checks that can be answered once it is done, ``proofs`` those of the
    checks that must be answered yes before it may begin, whoever says their steps are done. ``owner`` is who was named
    for it before it began, "" for nobody; ``times_from`` says where the minutes come from: ``site``, ``house``,
    ``engine`` or "" for the catalogue; ``plain_title`` is the title without a record's values.
    """

    kind: typing.ClassVar[str] = "step"
    key: str
    stage: int
    number: str
    title: str
    do: str
    expect: str
    otherwise: str
    back: str
    minutes: tuple[float, float, float]
    attended: bool
    chapter: int
    wait: str = ""
    wait_minutes: float | None = None
    after: tuple[str, ...] = ()
    settles: tuple[str, ...] = ()
    proofs: tuple[str, ...] = ()
    ref: Ref | None = None
    caution: str = ""
    source: str = ""
    value: str = ""
    value_name: str = ""
    alone: bool = False
    owner: str = ""
    times_from: Annotated[str, TimesFrom] = ""
    origin: Annotated[str, AskedBy] = ""
    plain_title: str = ""

    @property
    def entry_key(self) -> str:
        """The key of what it comes from, which it shares with its like at other records."""
        if self.origin:
            return self.key
        return self.key.partition("@")[0]

    @property
    def asked_by(self) -> str:
        """Who asks for a step beyond the catalogue's, in words."""
        return AskedBy.words_of(self.origin)

    @property
    def times_words(self) -> str:
        """Where the minutes come from; "" for the catalogue."""
        return TimesFrom.words_of(self.times_from)


@dataclass(frozen=True, slots=True)
class Gate:
    """The end of a stage.

    ``blocking`` are the checks in the way, ``on_trust`` and ``excused`` those a
    signature puts a name to, ``signature`` the newest one. ``reason`` says it in words.
    """

    stage: int
    state: GateState
    blocking: tuple[SiteCheck, ...] = ()
    on_trust: tuple[SiteCheck, ...] = ()
    excused: tuple[SiteCheck, ...] = ()
    signature: Signature | None = None
    reason: str = ""


@dataclass(frozen=True)
class Stage:
    """One part of the deployment, 1 to 8, in order.

    Most pages ask for its checks and its gate alone, so its steps are worked out when they are first
    asked for, by ``steps_of``.
    """

    number: int
    key: str
    name: str
    purpose: str
    checks: tuple[SiteCheck, ...]
    gate: Gate
    steps_of: Callable[[int], list[SiteStep]] = field(repr=False, compare=False)

    @functools.cached_property
    def steps(self) -> tuple[SiteStep, ...]:
        """The steps, in the order of their numbers."""
        return tuple(self.steps_of(self.number))

    @functools.cached_property
    def sheet(self) -> tuple[SiteCheck | SiteStep, ...]:
        """The run sheet: each step, then the checks it settles, in the order of their numbers."""
        return tuple(sorted((*self.steps, *self.checks), key=lambda one: _place(one.number)))

    @functools.cached_property
    def counts(self) -> dict[str, int]:
        """How many checks bear each answer."""
        counts = dict.fromkeys(map(str, AnswerState), 0)
        for check in self.checks:
            counts[check.state] += 1
        return counts

    @property
    def total(self) -> int:
        return len(self.checks)

    @property
    def answered(self) -> int:
        """Checks that anybody answered, whatever the answer."""
        return self.total - self.counts[AnswerState.OPEN]


def _place(number: str) -> tuple[int, int, str]:
    """Orders 4.6, 4.6b, 4.6aa, 4.10 as a person would."""
    after = number.partition(".")[2]
    digits = after.rstrip("abcdefghijklmnopqrstuvwxyz")
    return int(digits), len(after), after


@dataclass(frozen=True)
class Stages:
    """The eight stages of one site, and answered checks that no longer apply (``gone``)."""

    stages: tuple[Stage, ...]
    gone: tuple[SiteCheck, ...] = ()

    @functools.cached_property
    def checks(self) -> dict[str, SiteCheck]:
        """Every check that applies, by key, in order."""
        return {check.key: check for stage in self.stages for check in stage.checks}

    @functools.cached_property
    def steps(self) -> dict[str, SiteStep]:
        """Every step that applies, by key, in order."""
        return {step.key: step for stage in self.stages for step in stage.steps}

    def stage(self, number: int) -> Stage | None:
        if 1 <= number <= len(self.stages):
            return self.stages[number - 1]
        return None

    @property
    def total(self) -> int:
        return sum(stage.total for stage in self.stages)

    @property
    def answered(self) -> int:
        return sum(stage.answered for stage in self.stages)

    @property
    def fullness(self) -> float | None:
        """The answered share of all checks, 0 to 1; ``None`` without a check."""
        if self.total:
            return self.answered / self.total
        return None

    @property
    def passed(self) -> int:
        """Stages whose gate is signed and stands."""
        return sum(stage.gate.state == GateState.SIGNED for stage in self.stages)

    @property
    def current(self) -> Stage | None:
        """The first stage whose gate is not signed; ``None`` when all are."""
        return next((stage for stage in self.stages if stage.gate.state != GateState.SIGNED), None)
