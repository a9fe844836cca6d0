"""Preview: what runs of the probe would answer, check by check, before anybody takes it.

A check is *proven* when every question that speaks for it came back as planned and nothing is left to a person;
*failed* when one did not; *part* when what was told is as planned and something is still open. Then a person who
looked at the rest says so in words, and the answer is theirs.
"""

from __future__ import annotations

import functools
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from planner.papers.configs.words import one_line
from planner.papers.probe.results import Run, Seen, SeenState
from planner.papers.probe.tasks import Probe, Task
from planner.plan import Plan
from planner.record.choices import AnswerState, Choice, Wanted
from planner.stages import SiteCheck

EVIDENCE = 3200  # letters of a proof that the probe fills; an answer holds 4,000, and a person may add some
LINES = 24  # of each kind that an evidence tells
TOGETHER = 6  # questions as planned that are told in a line each; more are told by what was asked


class VerdictState(Choice):
    """The first two are answers as well."""

    PROVEN = AnswerState.PROVEN.value
    FAILED = AnswerState.FAILED.value
    PART = "part"  # of what it takes was seen
    UNTOLD = "untold"


@dataclass(frozen=True)
class Verdict:
    """One check: ``evidence`` is what its proof will say.

    ``left`` is what is still to be looked at, ``measured`` what was read where the check wants a value. ``ok``,
    ``failed`` and ``open`` are the questions' own words; ``runs`` are those that any of them came from.
    """

    check: SiteCheck
    state: VerdictState
    evidence: str
    left: tuple[str, ...]
    ok: tuple[str, ...]
    failed: tuple[str, ...]
    open: tuple[str, ...]
    measured: str = ""
    runs: tuple[Run, ...] = ()

    @property
    def completable(self) -> bool:
        """Whether somebody who looked at the rest can make it proven here: a photo has to be taken on its own page."""
        return self.state == VerdictState.PART and self.check.wants != Wanted.PHOTO

    @property
    def answers(self) -> bool:
        """Whether it can become an answer as it stands."""
        return self.state in (VerdictState.PROVEN, VerdictState.FAILED)


@dataclass(frozen=True)
class Preview:
    """What some runs say of a site. ``unknown`` counts results of questions that the plan does not ask now."""

    runs: tuple[Run, ...]
    verdicts: tuple[Verdict, ...]
    warnings: tuple[str, ...]

    @property
    def unknown(self) -> int:
        return sum(run.unknown for run in self.runs)

    @functools.cached_property
    def by_check(self) -> dict[str, Verdict]:
        return {verdict.check.key: verdict for verdict in self.verdicts}


def preview(plan: Plan, probe: Probe, runs: Sequence[Run]) -> Preview:
    """What runs say together. Of two answers to one question the later counts."""
    ordered = sorted(runs, key=lambda run: run.ended)
    found: dict[str, tuple[Run, Seen]] = {}
    for run in ordered:
        if run.inside:
            found.update((id, (run, seen)) for id, seen in run.seen.items())
    verdicts = []
    for key, check in plan.stages.checks.items():
        tasks = probe.by_check.get(key, ())
        if any(task.id in found for task in tasks):
            verdicts.append(_verdict(check, tasks, found, probe))
    return Preview(tuple(ordered), tuple(verdicts), tuple(_warnings(ordered)))


def _warnings(runs: Sequence[Run]) -> Iterator[str]:
    for run in runs:
        for warning in run.warnings:
            yield (
                f"{run.network_name}, {run.ended:%d %b %H:%M}: {warning}"
                if len(runs) > 1
                else warning
            )


def _verdict(
    check: SiteCheck, tasks: Sequence[Task], found: dict[str, tuple[Run, Seen]], probe: Probe
) -> Verdict:
    by_state: dict[SeenState, list[Told]] = {state: [] for state in SeenState}
    runs: dict[int, Run] = {}
    label = _labelled(tasks, probe)
    for task in tasks:
        if task.id in found:
            run, seen = found[task.id]
            runs[id(run)] = run
            by_state[seen.state].append(Told(task, label[task.network_id], seen.seen, seen.value))
    ok, failed, open_ = by_state.values()
    missing = [task for task in tasks if task.id not in found]
    if any(told.task.enough for told in ok):
        missing, open_ = [], []
    left = (
        *_not_asked(missing, probe),
        *(told.words for told in open_),
        *probe.untold.get(check.key, ()),
    )
    return Verdict(
        check=check,
        state=_state(ok, failed, left),
        evidence=_evidence(list(runs.values()), ok, failed, open_),
        left=left,
        ok=tuple(told.words for told in ok),
        failed=tuple(told.words for told in failed),
        open=tuple(told.words for told in open_),
        measured=_measured(check, (*ok, *failed)),
        runs=tuple(runs.values()),
    )


def _state(ok: Sequence[Told], failed: Sequence[Told], left: Sequence[str]) -> VerdictState:
    if failed:
        return VerdictState.FAILED
    if not ok:
        return VerdictState.UNTOLD
    if left:
        return VerdictState.PART
    return VerdictState.PROVEN


def _measured(check: SiteCheck, told: Sequence[Told]) -> str:
    """The values that were read, for a check that wants one; a single number where it wants a number."""
    values = list(dict.fromkeys(one.value for one in told if one.value))
    if check.wants != Wanted.VALUE:
        return ""
    if check.unit:
        return values[0] if len(values) == 1 else ""
    return ", ".join(values)[:300]


@dataclass(frozen=True, slots=True)
class Told:
    """One answered question; ``place`` is "" or the words before it where several networks ask for one check."""

    task: Task
    place: str
    seen: str
    value: str = ""

    @property
    def words(self) -> str:
        return f"{self.place}{self.task.words}: {self.seen}"


def _labelled(tasks: Sequence[Task], probe: Probe) -> dict[int, str]:
    ids = dict.fromkeys(task.network_id for task in tasks)
    labels = {id: one_line(probe.places[id].network.label, 60) for id in ids}
    return {id: f"from {label}: " if len(ids) > 1 else "" for id, label in labels.items()}


def _not_asked(tasks: Sequence[Task], probe: Probe) -> Iterator[str]:
    """Questions of networks that no run came from."""
    for network, count in Counter(task.network_id for task in tasks).items():
        label = one_line(probe.places[network].network.label, 60)
        yield f"{count} {'question' if count == 1 else 'questions'} not asked yet, from {label}"


def _evidence(
    runs: Sequence[Run], ok: Sequence[Told], failed: Sequence[Told], open_: Sequence[Told]
) -> str:
    """The proof's text: what is not so first, then what is, each with what was seen."""
    lines = [f"{run.told}." for run in runs]
    lines += _listed("Not so", [told.words for told in failed])
    lines += _listed(
        "As planned", _together(ok) if len(ok) > TOGETHER else [told.words for told in ok]
    )
    lines += _listed("Could not be told", [told.words for told in open_])
    whole = "\n".join(lines)
    if len(whole) <= EVIDENCE:
        return whole
    while len("\n".join(lines)) > EVIDENCE - 60 and len(lines) > 1:
        lines.pop()
    return "\n".join([*lines, "(longer than a proof may be: the rest is in the results file)"])[
        :EVIDENCE
    ]


def _together(told: Sequence[Told]) -> list[str]:
    """Flows from one network to one machine in one line; other questions in one each."""
    found: dict[tuple[str, str], dict[str, None]] = {}
    for one in told:
        if one.task.whom:
            key = (one.place, one.task.whom)
        else:
            key = (one.place + one.task.words, "")
        found.setdefault(key, {})[one.task.what] = None
    return [
        f"{place}{whom}: {', '.join(what)}" if whom else place
        for (place, whom), what in found.items()
    ]


def _listed(head: str, told: Sequence[str]) -> list[str]:
    if len(told) < 2:
        return [f"{head}: {one}" for one in told]
    if len(told) > LINES:
        more = [f"- and {len(told) - LINES} more"]
    else:
        more = []
    return [f"{head}:", *(f"- {one}" for one in told[:LINES]), *more]
