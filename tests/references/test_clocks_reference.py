"""Chains of clocks against a graph library, and the tolerance against the standard.

Source: networkx, descendants and simple_cycles.
Source: RFC 4120 §8.2, recommended values: acceptable clock skew, 5 minutes.
"""

from __future__ import annotations

import itertools
import random

import networkx
import pytest

from planner.engine.upkeep.clocks import drift_days
from planner.record import facts as f
from tests.factories import plan_of

OUTSIDE = [f"ntp{number}.example.net" for number in range(3)]
SERVER = f.Server(id=1, name="dc", roles=("directory",))


def site(draw: random.Random, most: int) -> tuple[list[f.Host], f.Directory, networkx.DiGraph]:
    """Hosts and a directory that follow one another at random, and the same as a graph."""
    hosts, graph = draw.randint(1, 8), networkx.DiGraph()
    others = [*(f"n{number}" for number in range(hosts)), "dc", *OUTSIDE]

    def sources(name: str) -> str:
        graph.add_node(name)
        found = draw.sample([other for other in others if other != name], draw.randint(0, most))
        graph.add_edges_from((name, other) for other in found)
        return ", ".join(found)

    made = [f.Host(id=n + 1, name=f"n{n}", time_source=sources(f"n{n}")) for n in range(hosts)]
    return (
        made,
        f.Directory(id=1, directory_kind="domain", domain="x.example", time_source=sources("dc")),
        graph,
    )


def names(plan) -> dict[str, tuple[set[str], tuple[str, ...]]]:
    """By the graph's name: the roots and the way round."""
    taken = {"x.example": "dc"}
    return {
        taken.get(t.label, t.label): (
            {r.label for r in t.roots},
            tuple(taken.get(n, n) for n in t.loop),
        )
        for t in plan.clocks.takers
    }


def test_where_chains_end():
    draw = random.Random(5)
    for _ in range(150):
        hosts, directory, graph = site(draw, most=3)
        for name, (roots, _) in names(plan_of(SERVER, directory, *hosts)).items():
            wanted = {one for one in networkx.descendants(graph, name) if one in OUTSIDE}
            assert roots == wanted


def test_which_clocks_go_round():
    """With one source each, a clock goes round exactly when it lies on a cycle of the graph."""
    draw, seen = random.Random(6), 0
    for _ in range(400):
        hosts, directory, graph = site(draw, most=1)
        on_cycle = {node for cycle in networkx.simple_cycles(graph) for node in cycle}
        for name, (_, way) in names(plan_of(SERVER, directory, *hosts)).items():
            assert bool(way) == (name in on_cycle)
            if way:
                seen += 1
                assert way[0] == way[-1] == name
                assert all(graph.has_edge(one, other) for one, other in itertools.pairwise(way))
    assert seen > 50


def test_the_tolerance():
    """Source: RFC 4120 §8.2."""
    assert plan_of().clocks.tolerance_minutes == 5


def test_drift_second_by_second():
    """A clock that gains 50 µs a second, advanced an hour at a time, is 5 minutes ahead after as many days."""
    hours, ahead = 0, 0.0
    while ahead < 300:
        hours, ahead = hours + 1, ahead + 3600 * 50e-6
    assert drift_days(5, 50) == pytest.approx(hours / 24, abs=1 / 24)
