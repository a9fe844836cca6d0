"""What people said about the plan: numbers set, answers, signatures, and what was built."""

from __future__ import annotations

import datetime as dt
import typing
from dataclasses import dataclass
from typing import Annotated

from planner.record.choices import AnswerState, NumberOrigin, NumberScope
from planner.record.facts.base import Day, Id, Record
from planner.record.facts.records import Network


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumed:
    """An assumption's value here, when it is not the catalogue's."""

    key: str
    value: float
    origin: Annotated[str, NumberOrigin] = NumberOrigin.HOUSE_RULE
    scope: Annotated[str, NumberScope] = NumberScope.SITE
    note: str = ""
    set_on: Day | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The newest answer to one check. ``check`` is the check's full key (``key`` or ``key@anchor``)."""

    planned: typing.ClassVar[bool] = False
    check: str
    state: Annotated[str, AnswerState] = AnswerState.OPEN
    by: str = ""
    at: dt.datetime | None = None
    proof: str = ""
    reopened: bool = False  # open again because the site turned live
    value: str | None = (
        None  # what the plan's value was when it was given, "" for none; None: not kept
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """A gate that a lead signed; ``on_trust`` and ``excused`` are what the lead put the name to."""

    planned: typing.ClassVar[bool] = False
    stage: int
    by: str
    at: dt.datetime
    on_trust: tuple[str, ...] = ()
    excused: tuple[str, ...] = ()
    checks: tuple[str, ...] = ()
    fingerprint: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Acceptance:
    """A lead lives with a finding, for a reason and until a day. ``finding`` is the finding's token."""

    planned: typing.ClassVar[bool] = False
    finding: str
    reason: str
    look_again: Day | None
    by: str
    at: dt.datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Built(Record):
    """What was really built where it differs: ``target`` is an anchor, ``field`` its field."""

    kind: typing.ClassVar[str] = "built"
    called: typing.ClassVar[str] = "built value"
    planned: typing.ClassVar[bool] = False
    target: str = ""
    field: str = ""
    value: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Neighbour:
    """Another site of the same customer that a link joins to this one; of its networks only name, purpose and
    subnet are known here."""

    planned: typing.ClassVar[bool] = False
    id: Id
    name: str = ""
    networks: tuple[Network, ...] = ()
