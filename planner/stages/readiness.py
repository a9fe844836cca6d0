"""Readiness: what still stands in the way, who may settle it, and what would open a gate soonest.

Decisions
- A step counts as done when somebody said so, when its gate is signed and stands, when every check it settles
  is answered *proven*, *on trust* or *excused*, and, where it settles none, when a step that follows it
  directly is done: nobody ticks off what stands under a wall that is up.
- A step that needs a proof (a backup restored before anything is wiped) cannot start while its check is not
  answered as the gate wants it, though somebody said that the step before is done.
- A check that fails or is open takes the steps it needs: the one that settles it, if that is not done, and all
  undone ones before it. A check whose steps are all done takes only a look.
- Soonest is least work first: likely minutes, then number of steps, then the order of the run sheet. What two
  checks both need counts once in the sum.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from planner.record.choices import Answerer
from planner.stages.gates import stands_in_way
from planner.stages.results import SAID, GateState, SiteCheck, SiteStep, Stage, Stages


@dataclass(frozen=True, slots=True)
class Remaining:
    """A check in the way of a gate: why, the steps it still takes in their order, their three times added up
    in minutes."""

    check: SiteCheck
    why: str
    steps: tuple[SiteStep, ...]
    minutes: tuple[float, float, float]

    @property
    def look_only(self) -> bool:
        return not self.steps


@dataclass(frozen=True, slots=True)
class Way:
    """The way to one open gate.

    ``remaining`` are the checks in the way, the quickest first; ``steps`` all that they take, in the order of
    their numbers, ``minutes`` the three times of these added up; ``chain`` is how many likely minutes it takes
    however many people help. ``before`` is the number of a gate that must be signed first, 0 for none.
    """

    stage: Stage
    remaining: tuple[Remaining, ...]
    steps: tuple[SiteStep, ...]
    minutes: tuple[float, float, float]
    chain: float
    before: int = 0


def finished(stages: Stages, done: Collection[str] = ()) -> set[str]:
    """The keys of the steps that count as done. ``done`` are those that somebody said are."""
    steps = stages.steps
    found = {key for key in done if key in steps}
    silent = set()
    for stage in stages.stages:
        signed = stage.gate.state == GateState.SIGNED
        for step in stage.steps:
            settled = [stages.checks[key] for key in step.settles if key in stages.checks]
            if signed or (settled and all(check.state in SAID for check in settled)):
                found.add(step.key)
            elif not settled:
                silent.add(step.key)
    left = list(found)
    while left:
        for key in steps[left.pop()].after:
            if key in silent and key not in found:
                found.add(key)
                left.append(key)
    return found


def waits_for(
    step: SiteStep, steps: Mapping[str, SiteStep], finished: Collection[str]
) -> tuple[SiteStep, ...]:
    """The steps directly before this one that are not done: why it cannot start yet.

    One that another of them waits for is not told: it is told there.
    """
    left = [steps[key] for key in step.after if key in steps and key not in finished]
    if len(left) < 2:
        return tuple(left)
    behind = _with_before(
        (key for one in left for key in one.after if key in steps), steps, finished
    )
    return tuple(one for one in left if one.key not in behind)


def unproven(step: SiteStep, checks: Mapping[str, SiteCheck], live: bool) -> tuple[SiteCheck, ...]:
    """The checks that must be answered yes before a step begins, and are not."""
    found = (checks[key] for key in step.proofs if key in checks)
    return tuple(check for check in found if stands_in_way(check, live))


def settled_by(stages: Stages) -> dict[str, tuple[SiteStep, ...]]:
    """The steps after which each check can be answered, by the check's key."""
    found: dict[str, tuple[SiteStep, ...]] = {}
    for step in stages.steps.values():
        for key in step.settles:
            found[key] = (*found.get(key, ()), step)
    return found


def way_to(stages: Stages, number: int, live: bool, done: Collection[str] = ()) -> Way:
    """What would open the gate of a stage soonest. ``number`` is 1 to 8, ``done`` as in :func:`finished`."""
    stage = stages.stages[number - 1]
    over, settling = finished(stages, done), settled_by(stages)
    found = [
        _remaining(stages, check, settling.get(check.key, ()), over, live)
        for check in stage.gate.blocking
    ]
    found.sort(
        key=lambda one: (one.minutes[1], len(one.steps))
    )  # stable: then the order of the run sheet
    wanted = {step.key for one in found for step in one.steps}
    steps = _in_order(stages, wanted)
    before = next(
        (one.number for one in stages.stages[: number - 1] if one.gate.state != GateState.SIGNED), 0
    )
    return Way(stage, tuple(found), steps, _added(steps), _chain(steps), before)


def _remaining(
    stages: Stages,
    check: SiteCheck,
    settling: Iterable[SiteStep],
    over: Collection[str],
    live: bool,
) -> Remaining:
    keys = _with_before([step.key for step in settling if step.key not in over], stages.steps, over)
    steps = _in_order(stages, keys)
    return Remaining(check, stands_in_way(check, live), steps, _added(steps))


def _with_before(
    keys: Iterable[str], steps: Mapping[str, SiteStep], over: Collection[str]
) -> set[str]:
    """These steps and all undone ones that come before them, however far back."""
    wanted: set[str] = set()
    left = list(keys)
    while left:
        key = left.pop()
        if key not in wanted:
            wanted.add(key)
            left += [other for other in steps[key].after if other in steps and other not in over]
    return wanted


def _in_order(stages: Stages, keys: Collection[str]) -> tuple[SiteStep, ...]:
    if keys:
        return tuple(step for key, step in stages.steps.items() if key in keys)
    return ()


def _added(steps: Iterable[SiteStep]) -> tuple[float, float, float]:
    low = likely = high = 0.0
    for step in steps:
        low, likely, high = low + step.minutes[0], likely + step.minutes[1], high + step.minutes[2]
    return low, likely, high


def _chain(steps: Iterable[SiteStep]) -> float:
    """The longest chain of likely minutes through these steps: no crowd of helpers is quicker."""
    known = {step.key: step for step in steps}
    ends: dict[str, float] = {}
    left = list(known)
    while left:
        key = left[-1]
        before = [other for other in known[key].after if other in known]
        wait = [other for other in before if other not in ends]
        if wait and key not in ends:
            left += wait
            continue
        ends.setdefault(
            key, known[key].minutes[1] + max((ends[other] for other in before), default=0.0)
        )
        left.pop()
    return max(ends.values(), default=0.0)


# -- who -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Part:
    """What waits for one person or one standing: ``owner`` is a name, or "" when nobody took it on; then
    ``who`` says who may."""

    owner: str
    who: str
    checks: tuple[SiteCheck, ...]


def by_owner(stages: Stages, live: bool, owners: Mapping[str, str]) -> tuple[Part, ...]:
    """Every check in the way of a gate, by the owner of a step that settles it, else by who may answer.

    ``owners`` are names by the keys of steps. Named owners come first, by name, then anybody, then leads.
    """
    settling = settled_by(stages)
    found: dict[tuple[str, str], list[SiteCheck]] = {}
    for stage in stages.stages:
        for check in stage.gate.blocking:
            names = [
                owners[step.key] for step in settling.get(check.key, ()) if owners.get(step.key)
            ]
            if names and check.who != Answerer.LEAD:
                owner = names[0]
            else:
                owner = ""
            found.setdefault((owner, check.who), []).append(check)
    order = sorted(found, key=lambda one: (not one[0], one[0].casefold(), one[1]))
    return tuple(Part(owner, who, tuple(found[owner, who])) for owner, who in order)
