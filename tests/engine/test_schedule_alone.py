"""Alone tasks: while one runs nothing else does, in layouts, days drawn by chance, bounds and chains.

Checks against an exact solver: tests/references/test_schedule_reference.py.
"""

from __future__ import annotations

import dataclasses
import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.engine import schedule
from planner.engine.schedule import ALWAYS, Hours, Real, Task, chances, laying, table
from tests.engine.test_schedule import DAYS, PEOPLE, SPANS, assert_valid, hours_of, networks, task

NEAR = 1e-6


def alone(key: str, minutes: float, after: str = "", **values) -> Task:
    return task(key, minutes, after, alone=True, **values)


def times(layout) -> dict[str, tuple[float, float]]:
    return {one.key: (one.start, one.finish) for one in layout.placed}


# -- layouts -------------------------------------------------------------------------------------


def test_neither_work_nor_a_wait_runs_beside_an_alone_task():
    tasks = [task("a", 30), task("b", 30), task("wait", 20, attended=False), alone("cut", 40)]
    free = schedule.lay_out([dataclasses.replace(one, alone=False) for one in tasks], ["x", "y"])
    layout = schedule.lay_out(tasks, ["x", "y"])
    assert (free.finish, layout.finish) == (
        60,
        70,
    )  # by hand: 30 and 30 beside 40; 40 alone, the rest in 30
    assert_apart(tasks, layout)


def test_an_alone_wait_keeps_everybody_from_work():
    tasks = [alone("down", 60, attended=False), task("a", 30), task("b", 30)]
    layout = schedule.lay_out(tasks, ["x", "y"])
    assert layout.finish == 90 and layout.of["down"].person == ""
    assert_apart(tasks, layout)


def test_alone_tasks_come_one_after_the_other():
    tasks = [alone("a", 10), alone("b", 10, attended=False), alone("c", 10, people=("y",))]
    layout = schedule.lay_out(tasks, ["x", "y"])
    assert (
        layout.finish == 30 == schedule.lower_bound(tasks, ["x", "y"])
        and layout.of["c"].person == "y"
    )
    assert sorted(begin for begin, _ in times(layout).values()) == [0, 10, 20]


def test_the_break_that_an_alone_task_spans_belongs_to_it():
    tasks = [alone("cut", 60, earliest=200), task("wait", 15, attended=False, earliest=240)]
    layout = schedule.lay_out(tasks, ["x"], DAYS)  # lunch is from 240 to 270
    assert times(layout) == {"cut": (200, 290), "wait": (290, 305)}


def test_a_long_wait_is_not_run_into():
    """The wait has begun before anybody may do the alone task, which then has no time left that day."""
    tasks = [task("copy", 500, attended=False), alone("cut", 60, earliest=5)]
    assert times(schedule.lay_out(tasks, ["x"], DAYS, tries=0)) == {
        "copy": (0, 500),
        "cut": (1440, 1500),
    }
    assert schedule.lay_out(tasks, ["x"], Hours([(0, 480, 0)]), tries=0).unplaced == ("cut",)


def test_whoever_did_what_comes_before_does_the_alone_task():
    tasks = [task("a", 10, people=("y",)), alone("cut", 10, "a")]
    assert schedule.lay_out(tasks, ["x", "y"]).of["cut"].person == "y"
    assert schedule.lay_out([alone("cut", 10, people=("z",)), task("a", 5)], ["x"]).unplaced == (
        "cut",
    )
    assert schedule.lay_out([alone("cut", 10), alone("down", 5, attended=False)], []).unplaced == (
        "cut",
    )


def test_a_task_of_no_length_does_not_fall_into_an_alone_one():
    tasks = [
        alone("cut", 10),
        task("sign", 0, earliest=5),
        task("look", 0, attended=False, earliest=5),
    ]
    assert times(schedule.lay_out(tasks, ["x", "y"])) == {
        "cut": (0, 10),
        "sign": (10, 10),
        "look": (10, 10),
    }


# -- while it happens ----------------------------------------------------------------------------


@pytest.mark.parametrize("attended", [True, False])
def test_planned_tasks_keep_clear_of_an_alone_one_under_way(attended):
    tasks = [alone("cut", 50, attended=attended), task("a", 10), task("wait", 10, attended=False)]
    layout = schedule.lay_out(
        tasks, ["x", "y"], real={"cut": Real(0, None, "x" if attended else "")}, now=20
    )
    assert {key: begin for key, (begin, _) in times(layout).items()} == {
        "cut": 0,
        "a": 50,
        "wait": 50,
    }


def test_a_planned_alone_task_keeps_clear_of_what_is_under_way():
    tasks = [alone("cut", 10), task("a", 30), task("wait", 60, attended=False)]
    layout = schedule.lay_out(
        tasks, ["x", "y"], real={"a": Real(0, None, "x"), "wait": Real(5)}, now=10
    )
    assert times(layout) == {"a": (0, 30), "wait": (5, 65), "cut": (65, 75)}
    over = schedule.lay_out(
        tasks, ["x"], real={"a": Real(0, None, "x"), "wait": Real(0, 40)}, now=90
    )
    assert over.of["cut"].start == 90  # both ended; the one that is overdue ends now


def test_what_really_overlapped_stays_as_it_was():
    tasks = [alone("cut", 50), task("a", 30), task("b", 5, "a")]
    real = {"cut": Real(0, None, "x"), "a": Real(10, 25, "y")}
    assert times(schedule.lay_out(tasks, ["x", "y"], real=real, now=30)) == {
        "cut": (0, 50),
        "a": (10, 25),
        "b": (50, 55),
    }


# -- from the end --------------------------------------------------------------------------------


def test_there_is_no_room_beside_an_alone_task():
    tasks = [task("wait", 30, attended=False), task("cut", 30)]
    assert laying.with_room(schedule.net(tasks), ["x"], ALWAYS, 50) == {"wait", "cut"}
    tasks[1] = alone("cut", 30)
    assert len(laying.with_room(schedule.net(tasks), ["x"], ALWAYS, 50)) == 1
    assert laying.with_room(schedule.net(tasks), ["x"], ALWAYS, 60) == {"wait", "cut"}


# -- what the end hangs on -----------------------------------------------------------------------


def test_an_alone_task_holds_up_what_stands_behind_it_and_is_held_up_itself():
    """The copy holds up the cut, though nobody does it and neither waits for the other; the cut the work."""
    tasks = [
        Task("copy", 30, 60, 90, attended=False),
        Task("cut", 6, 12, 18, people=("x",), earliest=50, alone=True),
        Task("late", 20, 20, 20, people=("y",), earliest=65),
        task("aside", 5),
    ]
    layout = laying.of_net(schedule.net(tasks), ["x", "y"], tries=0, rank=range(4))
    assert times(layout)["cut"] == (60, 72) and times(layout)["late"] == (72, 92)
    assert layout.chain == ("copy", "cut", "late")
    assert layout.variance == pytest.approx((60 / 6) ** 2 + (12 / 6) ** 2)
    web = schedule.net([dataclasses.replace(one, alone=False) for one in tasks])
    assert laying.of_net(web, ["x", "y"], tries=0, rank=range(4)).chain == ("late",)


def test_the_chain_goes_through_two_alone_tasks():
    tasks = [
        alone("a", 10, people=("x",)),
        alone("b", 20, people=("y",)),
        alone("c", 5, attended=False),
    ]
    layout = schedule.lay_out(tasks, ["x", "y"])
    assert set(layout.chain) == {"a", "b", "c"}


# -- bounds --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tasks", "bound"),
    [
        (
            [alone("a", 10, attended=False), alone("b", 10, attended=False), task("c", 5)],
            25,
        ),  # one by one
        (
            [task("a", 30), task("b", 30), task("c", 30), task("d", 30), alone("cut", 10)],
            70,
        ),  # both idle for ten
        (
            [task("a", 5), alone("b", 9, "a"), task("c", 7, "b"), alone("d", 4)],
            25,
        ),  # a chain, and one beside it
        ([alone("a", 10, earliest=100), task("b", 50, attended=False, earliest=100)], 160),
    ],
)
def test_the_bound_knows_alone_tasks(tasks, bound):
    """By hand; each is reached."""
    assert (
        schedule.lower_bound(tasks, ["x", "y"])
        == bound
        == schedule.lay_out(tasks, ["x", "y"]).finish
    )


def test_an_alone_wait_at_night_keeps_nobody_from_work():
    """DAYS has 450 open minutes a day: the work fills the first; a wait of 900 runs from its end to 1380."""
    tasks = [task("a", 450), alone("down", 900, "a", attended=False), task("b", 450, "a")]
    assert schedule.lay_out(tasks, ["x"], DAYS).finish == 1920
    assert schedule.lower_bound(tasks, ["x"], DAYS) <= 1920


# -- days drawn by chance ------------------------------------------------------------------------


def test_drawn_days_keep_an_alone_task_apart():
    """A wait and an alone task: the day is as long as both together, however long each turns out."""
    tasks = [Task("wait", 10, 20, 60, attended=False), Task("cut", 10, 20, 60, alone=True)]
    layout = schedule.lay_out(tasks, ["x"])
    draw = np.random.default_rng(3)
    both = sum(10 + 50 * draw.beta(1.8, 4.2, 500) for _ in tasks)
    assert schedule.simulate(tasks, layout, runs=500, seed=3).ends == pytest.approx(np.sort(both))


def test_drawn_days_keep_clear_of_what_is_under_way():
    tasks = [Task("wait", 10, 20, 60, attended=False), task("cut", 10, alone=True), task("a", 5)]
    layout = schedule.lay_out(tasks, ["x", "y"], real={"wait": Real(0)}, now=5)
    found = {one.key: (begin, end) for one, begin, end in chances.drawn(tasks, layout, 200, 1)}
    assert np.all(found["cut"][0] >= found["wait"][1]) or np.all(
        found["wait"][0] >= found["cut"][1]
    )
    assert np.ptp(found["cut"][0]) > 1  # it begins when the wait ends, each day at another time


# -- whatever comes ------------------------------------------------------------------------------


@st.composite
def some_alone(draw, most: int = 10):
    """Networks of whole minutes in which a quarter of the tasks runs alone."""
    return [
        dataclasses.replace(one, alone=draw(st.integers(0, 3)) == 0) for one in draw(networks(most))
    ]


def overlap(one: tuple[float, float], other: tuple[float, float]) -> bool:
    """A task of no length overlaps another inside it, not at its ends."""
    return one[0] < other[1] - NEAR and other[0] < one[1] - NEAR


def assert_apart(tasks, layout) -> None:
    """Nothing overlaps an alone task, unless both have happened."""
    known = {one.key: one for one in reversed(tasks)}
    for one, other in itertools.combinations(layout.placed, 2):
        if (known[one.key].alone or known[other.key].alone) and "planned" in (
            one.state,
            other.state,
        ):
            assert not overlap((one.start, one.finish), (other.start, other.finish)), (one, other)


@settings(max_examples=60, deadline=None)
@given(some_alone(), st.integers(1, 3), st.sampled_from([None, 0]))
def test_nothing_ever_overlaps(tasks, count, tries):
    people = PEOPLE[:count]
    layout = schedule.lay_out(tasks, people, tries=tries)
    assert_valid(tasks, layout, None, people)
    assert_apart(tasks, layout)
    if not layout.unplaced:
        assert schedule.lower_bound(tasks, people) - NEAR <= layout.finish
        assert layout.finish <= max(one.earliest for one in tasks) + sum(
            one.likely for one in tasks
        )
    assert layout == schedule.lay_out(tasks, people, tries=tries)  # the same every time


@settings(max_examples=60, deadline=None)
@given(some_alone(7), SPANS, st.integers(1, 3))
def test_nothing_ever_overlaps_over_breaks_and_nights(tasks, pieces, count):
    hours, day_of = hours_of(pieces)
    people = PEOPLE[:count]
    layout = schedule.lay_out(tasks, people, hours)
    assert_valid(tasks, layout, day_of, people)
    assert_apart(tasks, layout)
    if not layout.unplaced:
        assert schedule.lower_bound(tasks, people, hours) <= layout.finish + NEAR


@settings(max_examples=60, deadline=None)
@given(some_alone(8), st.integers(0, 40), st.sampled_from([ALWAYS, DAYS]), st.data())
def test_nothing_planned_overlaps_while_it_happens(tasks, now, hours, data):
    real = {}
    for one in tasks:
        if data.draw(st.integers(0, 2)) == 0:
            start = data.draw(st.integers(0, 40))
            finish = data.draw(st.sampled_from([None, start, start + 5]))
            real[one.key] = Real(start, finish, data.draw(st.sampled_from(["", "x", "guest"])))
    layout = schedule.lay_out(tasks, PEOPLE, hours, real=real, now=now)
    assert_apart(tasks, layout)
    assert {key: one.start for key, one in real.items()} == {
        one.key: one.start for one in layout.placed if one.state != "planned"
    }


@settings(max_examples=60, deadline=None)
@given(some_alone(8), st.integers(1, 3), SPANS, st.integers(0, 60))
def test_nothing_overlaps_from_the_end(tasks, count, pieces, end):
    """The layout told back from the end that :func:`laying.with_room` looks at; what has room is placed in it."""
    hours, _ = hours_of(pieces)
    web = schedule.net(tasks)
    back = web.turned()
    made = table.Table(back, PEOPLE[:count], hours.backwards(end), {}, 0.0).laid(
        laying.in_turn(back)
    )
    found = [
        laying.Placed(one.key, begin, finish)
        for one, begin, finish in zip(tasks, made.start, made.finish, strict=True)
        if finish is not None
    ]
    assert_apart(tasks, schedule.Layout(tuple(found), None, (), (), 0.0, hours))
    assert laying.with_room(web, PEOPLE[:count], hours, end) <= {one.key for one in found}


@settings(max_examples=40, deadline=None)
@given(
    some_alone(8),
    st.integers(1, 3),
    st.sampled_from([ALWAYS, DAYS]),
    st.integers(0, 2),
    st.integers(0, 30),
)
def test_nothing_overlaps_in_drawn_days(tasks, count, hours, happened, now):
    tasks = [dataclasses.replace(one, pessimistic=2 * one.likely + 3) for one in tasks]
    first = schedule.lay_out(tasks, PEOPLE[:count], hours)
    begun = [one for one in first.placed[:happened] if one.start <= now]
    real = {one.key: Real(one.start, None, one.person) for one in begun}
    layout = schedule.lay_out(tasks, PEOPLE[:count], hours, real=real, now=now)
    if schedule.simulate(tasks, layout, runs=3) is None:
        return
    known = {one.key: one for one in tasks}
    days = [(one, begin, end) for one, begin, end in chances.drawn(tasks, layout, 20, 5)]
    for (one, begin, end), (other, starts, ends) in itertools.combinations(days, 2):
        if (known[one.key].alone or known[other.key].alone) and "planned" in (
            one.state,
            other.state,
        ):
            assert np.all((end <= starts + NEAR) | (ends <= begin + NEAR)), (one, other)


@settings(max_examples=40, deadline=None)
@given(some_alone(), st.integers(1, 3))
def test_the_chain_has_no_gap(tasks, count):
    """Without any earliest time each task of the chain begins as the one before it ends, the first one at once."""
    tasks = [dataclasses.replace(one, earliest=0.0) for one in tasks]
    layout = schedule.lay_out(tasks, PEOPLE[:count])
    chain = [layout.of[key] for key in layout.chain]
    if not chain or layout.unplaced:
        return
    assert chain[0].start == 0 and chain[-1].finish == layout.finish
    assert all(one.finish == other.start for one, other in itertools.pairwise(chain))
