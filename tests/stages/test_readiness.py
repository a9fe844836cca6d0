"""What would open a gate soonest, who may settle it, and which steps count as done."""

from __future__ import annotations

import dataclasses
import datetime as dt

import networkx as nx
import pytest
from hypothesis import HealthCheck, given, settings

from planner.plan import Plan
from planner.record import facts as f
from planner.stages import SiteCheck, SiteStep, Stage, Stages, readiness
from planner.stages.results import Gate
from tests.stages.examples import clinic
from tests.stages.odd import facts as odd_facts
from tests.stages.test_odd_facts import KEYS

AT = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)


def check(key: str, number: str, state: str = "open", who: str = "editor") -> SiteCheck:
    return SiteCheck(
        key=key,
        stage=int(number[0]),
        number=number,
        title=key,
        why="",
        how="",
        proof="",
        wants="note",
        chapter=1,
        answer=f.Answer(check=key, state=state),
        who=who,
    )


def step(
    key: str, number: str, likely: float, after: tuple[str, ...] = (), settles: tuple[str, ...] = ()
) -> SiteStep:
    return SiteStep(
        key=key,
        stage=int(number[0]),
        number=number,
        title=key,
        do="",
        expect="",
        otherwise="",
        back="",
        minutes=(likely / 2, likely, likely * 3),
        attended=True,
        chapter=1,
        after=after,
        settles=settles,
    )


def stage(
    number: int, checks: list[SiteCheck], steps: list[SiteStep], signed: bool = False
) -> Stage:
    blocking = tuple(one for one in checks if one.state in ("open", "failed"))
    gate = Gate(number, "signed" if signed else "shut" if blocking else "open", blocking)
    return Stage(number, str(number), f"Stage {number}", "", tuple(checks), gate, lambda _: steps)


def two_stages(signed: bool = False, carried: str = "open", racked: str = "open") -> Stages:
    """Carry (20 min) before rack (40); rack before power (15) and before label (5): a hand-worked example."""
    first = stage(
        1, [check("counted", "1.2")], [step("count", "1.1", 60, settles=("counted",))], signed
    )
    second = stage(
        2,
        [
            check("carried", "2.2", carried),
            check("racked", "2.4", racked),
            check("powered", "2.6"),
            check("signed", "2.8", who="lead"),
        ],
        [
            step("carry", "2.1", 20, settles=("carried",)),
            step("rack", "2.3", 40, ("carry",), ("racked",)),
            step("power", "2.5", 15, ("rack",), ("powered",)),
            step("label", "2.7", 5, ("rack",)),
        ],
    )
    return Stages((first, second))


def likely(way: readiness.Way) -> list[tuple[str, float]]:
    return [(one.check.key, one.minutes[1]) for one in way.remaining]


# -- the quickest way ----------------------------------------------------------------------------


def test_the_quickest_first_by_hand():
    """signed: no step settles it, only a look. carried: 20. racked: 20 + 40. powered: 20 + 40 + 15.
    Together each step once: 75 likely, half of it shortest, thrice longest; all one after the other: 75."""
    way = readiness.way_to(two_stages(), 2, live=True)
    assert likely(way) == [("signed", 0.0), ("carried", 20.0), ("racked", 60.0), ("powered", 75.0)]
    assert [one.look_only for one in way.remaining] == [True, False, False, False]
    assert [one.key for one in way.steps] == ["carry", "rack", "power"]
    assert (way.minutes, way.chain) == ((37.5, 75.0, 225.0), 75.0)
    assert way.before == 1


def test_what_is_done_takes_nothing_more():
    way = readiness.way_to(two_stages(), 2, live=True, done={"carry", "rack"})
    assert likely(way) == [("carried", 0.0), ("racked", 0.0), ("signed", 0.0), ("powered", 15.0)]
    assert way.minutes[1] == way.chain == 15.0


def test_an_answered_check_takes_its_step_for_done():
    way = readiness.way_to(two_stages(carried="trust"), 2, live=False)
    assert likely(way) == [("signed", 0.0), ("racked", 40.0), ("powered", 55.0)]


def test_a_failed_check_takes_its_step_again():
    way = readiness.way_to(two_stages(racked="failed"), 2, live=True)
    assert dict(likely(way))["racked"] == 60.0
    assert next(one.why for one in way.remaining if one.check.key == "racked") == "failed"


def test_two_ways_side_by_side_are_no_longer_than_the_longer_one():
    """Two steps of 30 and 50 min that wait for one of 10: 90 of work, 60 however many help."""
    steps = [
        step("open", "1.1", 10),
        step("a", "1.2", 30, ("open",), ("x",)),
        step("b", "1.4", 50, ("open",), ("y",)),
    ]
    found = Stages((stage(1, [check("x", "1.3"), check("y", "1.5")], steps),))
    way = readiness.way_to(found, 1, live=True)
    assert (way.minutes[1], way.chain, way.before) == (90.0, 60.0, 0)


def test_a_gate_before_it_comes_first_until_it_is_signed():
    assert readiness.way_to(two_stages(signed=True), 2, live=True).before == 0


# -- done ----------------------------------------------------------------------------------------


def test_a_step_that_settles_nothing_is_done_with_the_one_after_it():
    assert readiness.finished(two_stages(), {"power"}) == {
        "power"
    }  # rack settles a check that is open
    racked = two_stages(carried="proven", racked="proven")
    assert readiness.finished(racked) == {"carry", "rack"}
    steps = [
        step("first", "1.1", 5),
        step("second", "1.2", 5, ("first",)),
        step("third", "1.3", 5, ("second",), ("x",)),
    ]
    chain = Stages((stage(1, [check("x", "1.4", "proven")], steps),))
    assert readiness.finished(chain) == {"first", "second", "third"}


def test_a_signed_gate_leaves_no_step_to_do():
    assert "count" in readiness.finished(two_stages(signed=True))
    assert "count" not in readiness.finished(two_stages())


def test_why_a_step_cannot_start_yet():
    stages = two_stages()
    rack = stages.steps["rack"]
    assert [one.key for one in readiness.waits_for(rack, stages.steps, set())] == ["carry"]
    assert readiness.waits_for(rack, stages.steps, {"carry"}) == ()


def test_keys_nobody_knows_are_passed_over():
    assert readiness.finished(two_stages(), {"nonsense"}) == set()


# -- who -----------------------------------------------------------------------------------------


def test_checks_by_owner_then_by_who_may():
    parts = readiness.by_owner(two_stages(), True, {"rack": "Tom Reed", "power": "ann lee"})
    assert [(one.owner, one.who, [c.key for c in one.checks]) for one in parts] == [
        ("ann lee", "editor", ["powered"]),
        ("Tom Reed", "editor", ["racked"]),
        ("", "editor", ["counted", "carried"]),
        ("", "lead", ["signed"]),
    ]


# -- against a graph library, on a whole site ----------------------------------------------------


def graph(stages: Stages) -> nx.DiGraph:
    found = nx.DiGraph()
    for one in stages.steps.values():
        found.add_node(one.key)
        found.add_edges_from((before, one.key) for before in one.after)
    return found


@pytest.mark.parametrize("number", range(1, 9))
def test_a_whole_site_against_a_graph_library(number):
    """Source: networkx 3, ``ancestors`` and ``dag_longest_path_length``, on the steps of the made-up clinic."""
    stages = Plan(clinic()).stages
    web, settling = graph(stages), readiness.settled_by(stages)
    way = readiness.way_to(stages, number, live=True)
    assert way.remaining and {one.check.key for one in way.remaining} == {
        c.key for c in stages.stage(number).checks
    }
    union = set()
    for one in way.remaining:
        first = {step.key for step in settling[one.check.key]}
        wanted = first.union(*(nx.ancestors(web, key) for key in first))
        assert {step.key for step in one.steps} == wanted
        union |= wanted
    assert {step.key for step in way.steps} == union
    assert way.minutes[1] == pytest.approx(sum(stages.steps[key].minutes[1] for key in union))
    part = nx.DiGraph(web.subgraph(union))
    for before, after in part.edges:
        part.edges[before, after]["weight"] = stages.steps[after].minutes[1]
    for key in [key for key in union if part.in_degree(key) == 0]:
        part.add_edge("begin", key, weight=stages.steps[key].minutes[1])
    assert way.chain == pytest.approx(nx.dag_longest_path_length(part, weight="weight"))


def test_more_done_never_takes_longer():
    stages = Plan(clinic()).stages
    before = readiness.way_to(stages, 4, live=True).minutes[1]
    done: set[str] = set()
    for key in readiness.way_to(stages, 4, live=True).steps:
        done.add(key.key)
        now = readiness.way_to(stages, 4, live=True, done=done).minutes[1]
        assert now <= before
        before = now
    assert before == 0.0


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(odd_facts(KEYS))
def test_nothing_is_ever_raised(odd):
    plan = Plan(odd)
    for number in range(1, 9):
        way = readiness.way_to(plan.stages, number, odd.site.live)
        assert len(way.remaining) == len(plan.stages.stage(number).gate.blocking)
    parts = readiness.by_owner(plan.stages, odd.site.live, {})
    assert sum(len(part.checks) for part in parts) == sum(
        len(one.gate.blocking) for one in plan.stages.stages
    )


def test_a_proven_check_of_another_value_stands_in_the_way_again():
    host = f.Host(id=7, name="mill-h1", address="10.44.0.11")
    key = "host-reachable@host-7"
    answer = f.Answer(check=key, state="proven", at=AT, value="10.44.0.12", proof="seen")
    plan = Plan(dataclasses.replace(clinic(), hosts=(host,), answers=(answer,)))
    way = readiness.way_to(plan.stages, 3, live=True)
    assert (
        next(one.why for one in way.remaining if one.check.key == key)
        == "answered for another value"
    )
