"""The main flows between lanes of the site drawing: numbered arrows at the right, told in words below."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass

from planner.engine.flows.port_sheet import FIREWALL, Direction, Flow, Flows
from planner.papers import fonts
from planner.papers.drawings.shapes import Circle, Line, Path, Polygon, Shape, Text, clean, fit
from planner.record.facts import Id

MOST = 6
TRACK = 24  # from arrow to arrow
NAME = 150  # of a network in a line of words
# What a reader looks for first.
ORDER = (
    "display",
    "entry",
    "agent",
    "directory",
    "hypervisor",
    "dns",
    "profile",
    "storage",
    "administer-hosts",
    "administer-appliances",
    "own",
)


@dataclass(frozen=True, slots=True)
class Arrow:
    """Flows from one lane to another; ``number`` is how picture and words find each other."""

    number: int
    source: Id
    target: Id
    flows: tuple[Flow, ...]

    @property
    def firewall(self) -> bool:
        return any(flow.crosses == FIREWALL for flow in self.flows)


ANSWERS = ("lease-answer", "lease-relayed-answer")


def main(flows: Flows, drawn: set[Id]) -> tuple[list[Arrow], int]:
    """The handful of pairs of lanes that matter most, and how many pairs there are."""
    pairs = {}
    for pair, found in flows.between.items():
        asked = tuple(
            flow for flow in found if flow.rule not in ANSWERS
        )  # the arrow the other way says it
        if asked and drawn.issuperset(pair):
            pairs[pair] = asked
    leading: dict[int, list[tuple[Id, Id]]] = {}
    for pair in sorted(pairs, key=lambda pair: (-len(pairs[pair]), pair)):
        leading.setdefault(min(_rank(flow) for flow in pairs[pair]), []).append(pair)
    rounds = itertools.zip_longest(
        *(leading[rank] for rank in sorted(leading))
    )  # one of each sort, then the next
    chosen: list[tuple[Id, Id]] = [pair for one in rounds for pair in one if pair is not None][
        :MOST
    ]
    chosen.sort(key=lambda pair: min(_rank(flow) for flow in pairs[pair]))
    return [Arrow(at + 1, *pair, pairs[pair]) for at, pair in enumerate(chosen)], len(pairs)


def _rank(flow: Flow) -> int:
    if flow.rule in ORDER:
        return ORDER.index(flow.rule)
    return len(ORDER)


def words(arrow: Arrow, names: Mapping[Id, str]) -> str:
    """``lan → desks: display 3389; through a firewall``."""
    ports: dict[str, dict[str, None]] = {}
    for flow in sorted(arrow.flows, key=_rank):
        ports.setdefault(flow.name, {})[flow.ports or flow.transport] = None
    what = "; ".join(
        f"{name} {', '.join(list(found)[:4])}{' …' if len(found) > 4 else ''}"
        for name, found in ports.items()
    )
    if arrow.firewall:
        way = "through a firewall"
    else:
        way = "no firewall between"
    source, target = (
        fonts.shorten(clean(names[one]), NAME, 12.5) for one in (arrow.source, arrow.target)
    )
    return f"{source} → {target}, {way}: {what}"


def draw(arrows: list[Arrow], lines: Mapping[Id, float], left: float) -> list[Shape]:
    """Each arrow in its own track right of the lanes. ``lines`` are the lanes' heights, ``left`` their right end."""
    shapes: list[Shape] = []
    stubs: dict[Id, int] = {}
    for at, arrow in enumerate(arrows):
        x = left + 14 + at * TRACK
        start, finish = (_stub(lines[one], one, stubs) for one in (arrow.source, arrow.target))
        both = any(flow.direction == Direction.BOTH_WAYS for flow in arrow.flows)
        route = ((left + 2, start), (x, start), (x, finish), (left + 9, finish))
        shapes.append(Path(route, "line", 1.4, dashed=not arrow.firewall))
        shapes.append(_head(left + 2, finish))
        if both:
            shapes.append(_head(left + 2, start))
        middle = (start + finish) / 2
        if arrow.firewall:
            if abs(finish - start) > 44:
                gap = 14
            else:
                gap = 11
            shapes += [
                Line(x - 5, middle + gap + lift, x + 5, middle + gap + lift, "ink", 1.6)
                for lift in (0, 3.5)
            ]
        shapes.append(Circle(x, middle, 8.5, "paper", "line", 1.2))
        shapes.append(Text(x, middle + 4, str(arrow.number), 11.5, "ink", "middle", True))
    return shapes


def _stub(line: float, lane: Id, stubs: dict[Id, int]) -> float:
    """Arrows at one lane leave it a little apart."""
    place = stubs[lane] = stubs.get(lane, -1) + 1
    return line + place * 6


def _head(x: float, y: float) -> Polygon:
    return Polygon(((x, y), (x + 8, y - 3.6), (x + 8, y + 3.6)), "line")


def key(
    arrows: list[Arrow], pairs: int, names: Mapping[Id, str], y: float, width: float
) -> tuple[list[Shape], float]:
    """The arrows in words; gives the height they took."""
    if not arrows:
        return [], 0
    told = "Between networks there pass; the port sheet has every port:"
    if pairs > len(arrows):
        told = f"{len(arrows)} of {pairs} pairs of networks between which traffic passes; the port sheet has them all:"
    shapes: list[Shape] = [fit(0, y + 12, told, width, size=12, role="soft")]
    for at, arrow in enumerate(arrows):
        base = y + 34 + at * 21
        shapes.append(Circle(9, base - 4, 8.5, "paper", "line", 1.2))
        shapes.append(Text(9, base, str(arrow.number), 11.5, "ink", "middle", True))
        shapes.append(fit(26, base, words(arrow, names), width - 26, size=12.5))
    return shapes, 34 + len(arrows) * 21
