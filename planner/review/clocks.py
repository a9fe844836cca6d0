"""Findings about clocks: chains that go round, end inside, end apart, or lead to something that keeps no time."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from planner.engine.upkeep.clocks import Source, SourceKind, Taker
from planner.record.units import show
from planner.review.base import Hit, rule
from planner.review.words import and_list
from planner.stages.staged import Staged


def _takers(plan: Staged, kind: str) -> list[Taker]:
    return [taker for taker in plan.clocks.takers if taker.ref.kind == kind]


def _together(takers: list[Taker], **words: Any) -> Hit:
    """One hit about several takers, at the first one's time source."""
    first, *others = takers
    names = and_list([taker.label for taker in takers])
    if others:
        verb = "take their"
    else:
        verb = "takes its"
    return Hit(
        first.ref, also=tuple(taker.ref for taker in others), takers=names, take=verb, **words
    )


def _named(sources: tuple[Source, ...]) -> str:
    return and_list([source.label for source in sources])


@rule("clock-loop")
def loop(plan: Staged) -> Iterator[Hit]:
    """Every way round passes a host: a directory that asks its own server is told by another rule."""
    told: set[frozenset[str]] = set()
    for taker in _takers(plan, "host"):
        if taker.loop and frozenset(taker.loop) not in told:
            told.add(frozenset(taker.loop))
            also = (plan.facts.directory.ref.at("time_source"),)
            yield Hit(taker.ref, also=also, way=_way(taker.loop), **_drift(plan))


def _way(names: tuple[str, ...], most: int = 6) -> str:
    if len(names) <= most:
        shown = names
    else:
        shown = (*names[: most - 2], "…", names[-1])
    return " → ".join(shown)


def _drift(plan: Staged) -> dict[str, Any]:
    """How soon a clock that nobody corrects is too far out."""
    return {
        "days": show(plan.clocks.drift_days, 0) or "some",
        "tolerance": show(plan.clocks.tolerance_minutes),
    }


@rule("clock-only-inside")
def only_inside(plan: Staged) -> Iterator[Hit]:
    for taker in _takers(plan, "directory"):
        if taker.roots and all(root.kind == SourceKind.OWN for root in taker.roots):
            yield Hit(taker.ref, source=_named(taker.roots), directory=taker.label, **_drift(plan))


def _doubtful(plan: Staged, kind: str) -> Iterator[Hit]:
    """Sources that no record has, or whose record does not say that they keep time; one hit a source."""
    by_source: dict[Source, list[Taker]] = {}
    for taker in _takers(plan, kind):
        for source in taker.sources:
            if source.kind == SourceKind.UNLISTED or not source.timekeeper:
                by_source.setdefault(source, []).append(taker)
    for source, takers in by_source.items():
        unlisted = "is inside the site, and no record of this plan has it"
        if source.kind == SourceKind.UNLISTED:
            what = unlisted
        else:
            what = "is a server whose roles in 4.2 do not name time"
        hit = _together(takers, source=source.label, what=what)
        hit.twin = source.label
        yield hit


@rule("host-clock-source-doubtful")
def host_source_doubtful(plan: Staged) -> Iterator[Hit]:
    yield from _doubtful(plan, "host")


@rule("directory-clock-source-doubtful")
def directory_source_doubtful(plan: Staged) -> Iterator[Hit]:
    yield from _doubtful(plan, "directory")


@rule("host-clock-apart")
def apart(plan: Staged) -> Iterator[Hit]:
    """Hosts whose chain ends elsewhere than the directory's, or than most hosts' where there is none."""
    usual = plan.clocks.usual
    by_roots: dict[tuple[Source, ...], list[Taker]] = {}
    for taker in plan.clocks.apart:
        by_roots.setdefault(taker.roots, []).append(taker)
    for roots, takers in by_roots.items():
        if usual:
            if usual.ref.kind == "directory":
                others = usual.label
            else:
                others = "most other hosts"
            yield _together(
                takers,
                roots=_named(roots),
                usual=_named(usual.roots),
                others=others,
                tolerance=show(plan.clocks.tolerance_minutes),
            )
