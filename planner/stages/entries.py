"""What the catalogue says of a check and of a step; :mod:`planner.stages.reading` reads it.

``fixtures/catalogue/checks/N-stage.toml`` and ``fixtures/catalogue/steps/N-stage.toml``, one entry a
check or a step, in the order of the work. See :class:`CheckEntry` and :class:`StepEntry` for the fields.

**Numbers.** Checks and steps of a stage share one sequence, the order of its run sheet: a step, then
the checks it ``settles``. Checks that no step settles stand first. The number is the entry's place in
the whole catalogue, not among what applies here, so 4.6 is the same thing at every site, on screen
and on a paper printed before the plan moved; a number that is not there does not apply.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass, field
from typing import Annotated, TypeVar

from planner.record.choices import Answerer, Wanted
from planner.record.facts import Ref
from planner.stages.filling import Text
from planner.stages.results import AskedBy

# Waiting times that the engine works out: planner.engine.recovery.outages.waits says what each is.
WAITS = ("image-copy", "image-to-hosts", "desktops-start", "cold-start", "failover")


@dataclass(frozen=True, slots=True)
class StageEntry:
    """One of the eight parts of the deployment."""

    number: int
    key: str
    name: str
    purpose: str


STAGES = (
    StageEntry(
        1, "survey", "Survey", "Know what is wanted, what is there, and who holds which key."
    ),
    StageEntry(
        2,
        "ground",
        "Ground",
        "The network and the directory are ready before anything is carried in.",
    ),
    StageEntry(
        3, "hosts", "Hosts", "The machines stand, run cool, and answer to the right people only."
    ),
    StageEntry(
        4,
        "service",
        "Service",
        "The desktop service runs, bears its own name, and can be restored.",
    ),
    StageEntry(5, "image", "Image", "One machine is prepared so that every copy of it is right."),
    StageEntry(6, "desktops", "Desktops", "Desktops start as planned and find their people."),
    StageEntry(
        7, "pilot", "Pilot", "Ordinary people work on it, and it is broken on purpose once."
    ),
    StageEntry(
        8,
        "handover",
        "Handover",
        "The customer has it, the paper is true, and both sides have signed.",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """What checks and steps have in common.

    ``each`` (``for`` in the file) is the kind of record there is one for each of; ``when`` are the
    conditions that must all hold; ``chapter`` is where the values live. ``value`` are the facts that a check
    speaks of, whose answer holds for them alone; with a ``value_name`` it is one value, shown large to be copied.
    ``origin`` is "" for an entry of the catalogue, ``house`` or ``own`` for one that was added; ``ref`` is the
    record of an own one.
    """

    key: str
    stage: int
    chapter: int
    each: str = ""
    when: tuple[str, ...] = ()
    texts: dict[str, Text] = field(default_factory=dict)
    source: str = ""
    number: int = 0
    origin: Annotated[str, AskedBy] = ""
    ref: Ref | None = None
    plain: dict[str, str] = field(default_factory=dict, init=False)
    moving: dict[str, Text] = field(default_factory=dict, init=False)

    @property
    def shows_value(self) -> bool:
        """Whether its value is one to copy, and not only facts to watch."""
        return "value" in self.texts and "value_name" in self.texts

    def __post_init__(self) -> None:
        """Sets the texts that are the same at every site apart from those with placeholders."""
        for name, text in self.texts.items():
            if name != "value" and text.names:
                self.moving[name] = text
            elif name != "value":
                self.plain[name] = "".join(map(str, text.parts))


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckEntry(Entry):
    """A thing that must be true: ``title``, ``why``, ``how`` to see it, what counts as ``proof``.

    ``wants`` is the kind of proof, ``who`` the least role that may answer. A check that wants a value may
    say its ``unit``: then a number is wanted, and ``low`` and ``high`` are what it may be, ends included;
    ``low_from`` and ``high_from`` name an end that follows from the plan (:mod:`planner.stages.bounds`).
    ``no_value`` says why no fact of the plan can undo its answer. ``shows`` is the state of the site
    (:mod:`planner.stages.states`) that it proves.
    """

    wants: Annotated[str, Wanted]
    who: Annotated[str, Answerer] = Answerer.EDITOR
    unit: str = ""
    low: float | None = None
    high: float | None = None
    low_from: str = ""
    high_from: str = ""
    no_value: str = ""
    shows: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepEntry(Entry):
    """A thing to do: ``title``, ``do``, what to ``expect``, ``otherwise``, and the way ``back``.

    ``minutes`` are the shortest, the likely and the longest time; ``wait`` names the engine's own
    waiting time, which takes their place where it is known, with what ``hands`` need beside it (three
    numbers as well). ``attended`` says whether somebody must stand by, ``alone`` that nothing else may run
    beside it, because it disturbs all the rest. ``needs``, ``gives`` and ``takes`` are states of the site
    (:mod:`planner.stages.states`). ``after`` are the steps that must be done before, of this stage or an
    earlier one: what the file names, where no state says it, and all that follows from the states.
    ``settles`` are the checks that can be answered once it is done. How long things take is common
    practice, no source.
    """

    minutes: tuple[float, float, float]
    attended: bool
    alone: bool = False
    wait: str = ""
    hands: tuple[float, ...] = ()
    after: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    gives: tuple[str, ...] = ()
    takes: tuple[str, ...] = ()
    settles: tuple[str, ...] = ()


Kind = TypeVar("Kind", bound=Entry)


@dataclass(frozen=True)
class Catalogue:
    """Every check and step by key, in the order of the files."""

    checks: dict[str, CheckEntry]
    steps: dict[str, StepEntry]

    @functools.cached_property
    def by_stage(self) -> dict[int, tuple[list[CheckEntry], list[StepEntry]]]:
        """Each stage's checks and steps, each in the order of their numbers."""
        return {
            one.number: (_of(self.checks, one.number), _of(self.steps, one.number))
            for one in STAGES
        }


def _of(entries: dict[str, Kind], stage: int) -> list[Kind]:
    return sorted(
        (one for one in entries.values() if one.stage == stage), key=lambda one: one.number
    )
