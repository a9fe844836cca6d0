"""Checks and steps beyond the catalogue's, and what was decided about the catalogue's steps.

An own one belongs to one site, one of the house to every site. A step is named by its key in the
catalogue (``fix-host``) or in the house's list (``house@step-3``).
"""

from __future__ import annotations

import typing
from dataclasses import dataclass
from typing import Annotated

from planner.record.choices import Answerer, StageNumber, Wanted
from planner.record.facts.base import Id, Record

Minutes = float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnStep(Record):
    """Something to do that no catalogue knows. ``after`` and ``before`` are the keys of steps that it follows and
    that wait for it, ``after_own`` the ids of own steps."""

    kind: typing.ClassVar[str] = "ownstep"
    called: typing.ClassVar[str] = "own step"
    planned: typing.ClassVar[bool] = False
    name: str = ""  # what to do, in one line
    stage: Annotated[int, StageNumber] = 1
    do: str = ""
    expect: str = ""
    otherwise: str = ""
    back: str = ""
    caution: str = ""
    least_minutes: Minutes = None
    likely_minutes: Minutes = None
    longest_minutes: Minutes = None
    attended: bool | None = None
    alone: bool | None = None  # nothing else may run beside it
    after: tuple[str, ...] = ()
    after_own: tuple[Id, ...] = ()
    before: tuple[str, ...] = ()
    owner_id: Id | None = None  # a contact


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnCheck(Record):
    kind: typing.ClassVar[str] = "owncheck"
    called: typing.ClassVar[str] = "own check"
    planned: typing.ClassVar[bool] = False
    name: str = ""  # what must be true
    stage: Annotated[int, StageNumber] = 1
    why: str = ""
    how: str = ""
    proof: str = ""  # what counts as proof
    wants: Annotated[str, Wanted] = ""  # "" for a note
    unit: str = ""  # of a wanted value: then it is a number
    low: float | None = None
    high: float | None = None
    who: Annotated[str, Answerer] = ""  # "" for an editor
    ownstep_id: Id | None = None  # the step after which it can be answered


@dataclass(frozen=True, slots=True, kw_only=True)
class HouseStep(OwnStep):
    """A step the house adds at every site ``when`` (a condition of the catalogue) holds; "" is always."""

    of_house: typing.ClassVar[bool] = True
    when: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HouseCheck(OwnCheck):
    """A check the house adds, as :class:`HouseStep`; its ``ownstep_id`` is a step of the house."""

    of_house: typing.ClassVar[bool] = True
    when: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepPlan(Record):
    """What this site decided about a step: who owns it, how long it takes here, whether it is done before the
    on-site day."""

    kind: typing.ClassVar[str] = "stepplan"
    called: typing.ClassVar[str] = "plan of a step"
    planned: typing.ClassVar[bool] = False
    step: str = ""
    owner_id: Id | None = None  # a contact
    least_minutes: Minutes = None
    likely_minutes: Minutes = None
    longest_minutes: Minutes = None
    before_day: bool | None = None

    @property
    def label(self) -> str:
        return f"plan of “{self.step.replace('-', ' ') or 'a step'}”"


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """The house's three times in minutes for a step of the catalogue, in place of the catalogue's."""

    planned: typing.ClassVar[bool] = False
    step: str
    least_minutes: float
    likely_minutes: float
    longest_minutes: float
    note: str = ""
