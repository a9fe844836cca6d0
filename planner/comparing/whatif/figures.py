"""The figures that people watch while they try changes, and two plans side by side."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from planner.plan import Plan
from planner.record import units
from planner.review import WEIGHTS, Finding

LESS, MORE = -1, 1  # which way is better


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure: ``value`` as a number (``None``: not known) and as ``text``; ``better`` is -1, 0 or 1."""

    key: str
    label: str
    value: float | None
    text: str
    better: int = 0


@dataclass(frozen=True, slots=True)
class Moved:
    """One figure in two plans; ``way`` is "better", "worse", "moved" or "" when it is the same."""

    label: str
    before: str
    after: str
    way: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two plans side by side: figures, and the findings that only one of them has."""

    rows: tuple[Moved, ...]
    gone: tuple[Finding, ...]
    come: tuple[Finding, ...]

    @property
    def same(self) -> bool:
        return not (self.gone or self.come or any(row.way for row in self.rows))


def figures(plan: Plan) -> list[Figure]:
    """What follows from the plan, in the order of chapter 8."""
    return [
        *_hosts(plan),
        *_seats(plan),
        *_disks(plan),
        *_leases(plan),
        *_morning(plan),
        *_house(plan),
        *_weights(plan),
    ]


def _count(
    key: str, label: str, value: float | None, better: int = 0, unit: str = "", digits: int = 0
) -> Figure:
    text = units.show(value, digits) or "not known"
    return Figure(
        key, label, value, f"{text} {unit}".strip() if value is not None else text, better
    )


def _hosts(plan: Plan) -> Iterator[Figure]:
    placement = plan.placement
    total = [template.most for template in plan.facts.templates]
    yield _count(
        "most",
        "Desktops planned, at most",
        None if None in total else sum(one or 0 for one in total),
    )
    if placement.fits is None:
        left = None
    else:
        left = placement.left_out
    yield _count("left", "Fit on no host", left, LESS, "desktops")
    if len(placement.hosts) > 1:
        worst = max((down.left_out for down in placement.without), default=0)
        known = bool(placement.without) and all(down.fits is not None for down in placement.without)
        yield _count(
            "left-down",
            "Left out with the worst host down",
            worst if known else None,
            LESS,
            "desktops",
        )
    used, offered = sum(load.used_gib for load in placement.hosts), placement.offers_gib
    if offered and placement.fits is not None:
        share = 100 * used / offered
    else:
        share = None
    yield _count("memory", "Memory for desktops in use", share, LESS, "%")
    if placement.fits is not None:
        binds = placement.binds.words
    else:
        binds = ""
    yield Figure("binds", "Binds first", None, binds or "nothing yet")


def _seats(plan: Plan) -> Iterator[Figure]:
    for need in plan.concurrency.by_template:
        if need.people:
            if need.chance_short is None:
                chance = None
            else:
                chance = 100 * need.chance_short
            if chance is None:
                text = "not known"
            elif chance < 0.01:
                text = "under 0.01 %"
            else:
                text = f"{units.show(chance, 2)} %"
            label = f"{need.name}: chance that somebody finds no desktop"
            yield Figure(f"short-{need.template_id}", label, chance, text, LESS)


def _disks(plan: Plan) -> Iterator[Figure]:
    for store in plan.storage.stores:
        if store.free_share is None:
            free = None
        else:
            free = 100 * store.free_share
        yield _count(f"free-{store.datastore_id}", f"{store.name}: free after", free, MORE, "%")


def _leases(plan: Plan) -> Iterator[Figure]:
    for need in plan.leases.by_network:
        name = plan.facts.named("network", need.network_id)
        if need.needed is None:
            text = "not known"
        else:
            text = units.show(need.needed, 0)
        if need.scope_size is not None:
            text += f" of {units.show(need.scope_size, 0)}"
        yield Figure(f"leases-{need.network_id}", f"{name}: leases needed", need.needed, text, LESS)


def _morning(plan: Plan) -> Iterator[Figure]:
    """From as many mornings as fit a page that answers while people type."""
    for one in plan.surge.glance[0].templates if plan.surge.glance else ():
        if one.waits is not None:
            wait = one.waits.p95
        else:
            wait = None
        if wait is None:
            text = "not known"
        elif math.isinf(wait):
            text = "no desktop"
        else:
            text = units.show_seconds(wait)
        yield Figure(
            f"wait-{one.template_id}", f"{one.name}: 95 of 100 wait at most", wait, text, LESS
        )


def _house(plan: Plan) -> Iterator[Figure]:
    yield _count("watts", "Power", plan.facility.watts, LESS, "W")
    for line in plan.line.by_network:
        yield _count(
            f"line-{line.network_id}",
            f"{line.name}: line needed",
            line.needs_mbit_s,
            LESS,
            "Mbit/s",
            1,
        )


def _weights(plan: Plan) -> Iterator[Figure]:
    for weight in WEIGHTS[:2]:
        yield _count(weight, f"Open {weight}s", len(plan.review.open(weight)), LESS)


def compare(before: Plan, after: Plan) -> Comparison:
    """Both plans' figures side by side, and the findings that go and come."""
    old, new = {one.key: one for one in figures(before)}, {one.key: one for one in figures(after)}
    rows = tuple(_moved(old.get(key), new.get(key)) for key in dict.fromkeys([*old, *new]))
    stood = {finding.token: finding for finding in before.review.findings}
    stands = {finding.token: finding for finding in after.review.findings}
    gone = tuple(finding for token, finding in stood.items() if token not in stands)
    come = tuple(finding for token, finding in stands.items() if token not in stood)
    return Comparison(rows, gone, come)


def _moved(old: Figure | None, new: Figure | None) -> Moved:
    known = new or old
    if known:
        label = known.label
    else:
        label = ""
    texts = (old.text if old else "—", new.text if new else "—")
    if texts[0] == texts[1]:
        return Moved(label, *texts, "")
    if (
        not old
        or not new
        or old.value is None
        or new.value is None
        or not new.better
        or old.value == new.value
    ):
        return Moved(label, *texts, "moved")
    return Moved(label, *texts, "better" if (new.value - old.value) * new.better > 0 else "worse")
