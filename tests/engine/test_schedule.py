"""Schedule: networks, hours, layouts. Checks against textbooks and other solvers: tests/references."""

from __future__ import annotations

import datetime as dt
import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.engine import schedule
from planner.engine.schedule import ALWAYS, Calendar, Hours, Real, Task, laying

DAYS = Hours(
    [(0, 240, 0), (270, 480, 0), (1440, 1680, 1), (1710, 1920, 1)]
)  # two days with a break of 30


def task(key: str, minutes: float, after: str = "", **values) -> Task:
    """A task of a fixed length; ``after`` are keys with spaces between."""
    return Task(key, minutes, minutes, minutes, after=tuple(after.split()), **values)


# -- three estimates -----------------------------------------------------------------------------


def test_mean_and_variance():
    """Worked by hand: (2 + 4 · 5 + 14) / 6 = 6, ((14 − 2) / 6)² = 4."""
    one = Task("a", 2, 5, 14)
    assert (one.mean, one.variance) == (6, 4)


@pytest.mark.parametrize(
    "times", [(-1, 5, 9), (math.nan, 5, 9), (9, 5, 1), (1, 5, math.inf), (1, 2, 1e30)]
)
def test_lengths_that_cannot_be_are_told(times):
    found = schedule.critical_path([Task("a", *times)])
    assert found.problems == ("the times of “a” are not three lengths in order",)
    assert 0 <= found.length <= schedule.LONGEST


# -- networks ------------------------------------------------------------------------------------


def test_a_circle_is_told_and_nothing_is_raised():
    tasks = [
        task("a", 1),
        task("b", 1, "a d"),
        task("c", 1, "b"),
        task("d", 1, "c"),
        task("e", 1, "d"),
    ]
    found = schedule.critical_path(tasks)
    assert found.cycle[0] == found.cycle[-1] and set(found.cycle) == {"b", "c", "d"}
    for before, behind in zip(found.cycle, found.cycle[1:], strict=False):
        assert before in next(one for one in tasks if one.key == behind).after
    assert (found.length, found.times, found.chance(9)) == (None, {}, None)
    layout = schedule.lay_out(tasks, ["x"])
    assert (layout.placed, layout.finish, layout.cycle) == ((), None, found.cycle)
    assert schedule.lower_bound(tasks, ["x"]) is None
    assert schedule.simulate(tasks, layout) is None
    assert schedule.critical_path([task("a", 1, "a")]).cycle == ("a", "a")


def test_what_is_not_there_is_passed_over_and_told():
    found = schedule.critical_path([task("a", 3, "gone"), task("b", 2, "a a"), task("a", 99)])
    assert found.length == 5
    assert set(found.problems) == {
        "“a” stands twice; the first one counts",
        "“a” waits for “gone”, which is not there",
    }


def test_nothing_to_do():
    assert schedule.critical_path([]).length == 0
    layout = schedule.lay_out([], ["x"])
    assert (layout.placed, layout.finish, layout.chance(9)) == ((), None, None)


def test_slack_and_several_critical_paths():
    tasks = [
        task("a", 2),
        task("b", 5, "a"),
        task("c", 5, "a"),
        task("d", 1, "a"),
        task("e", 3, "b c d"),
    ]
    found = schedule.critical_path(tasks)
    assert (found.length, found.path_count) == (10, 2)
    assert set(found.paths) == {("a", "b", "e"), ("a", "c", "e")}
    assert (found.times["d"].slack, found.times["b"].slack) == (4, 0)


def test_very_many_critical_paths_are_counted_and_not_listed():
    layers = [
        task(
            f"{layer}.{one}",
            1,
            " ".join(f"{layer - 1}.{other}" for other in range(3)) if layer else "",
        )
        for layer in range(40)
        for one in range(3)
    ]
    found = schedule.critical_path(layers)
    assert (found.length, found.path_count, len(found.paths)) == (40, 3**40, 12)


def test_of_critical_paths_the_one_that_varies_most_counts():
    sure, unsure = task("a", 6), Task("b", 0, 6, 12)
    assert schedule.critical_path([sure, unsure]).variance == 4


def test_an_earliest_time_holds_a_task_back():
    found = schedule.critical_path([task("a", 2), task("b", 3, "a", earliest=10)])
    assert (found.length, found.times["a"].slack, found.paths) == (13, 8, (("b",),))


# -- hours ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ready", "length", "runs"),
    [
        (0, 60, (0, 60)),
        (-5, 60, (0, 60)),
        (200, 60, (200, 290)),
        (240, 60, (270, 330)),
        (250, 60, (270, 330)),
        (400, 90, (1440, 1530)),
        (480, 1, (1440, 1441)),
        (1700, 210, (1710, 1920)),
        (1800, 200, None),
        (0, 450, (0, 480)),
        (0, 500, (0, 1490)),
        (0, 901, None),
    ],
)
def test_work_pauses_over_a_break_but_not_overnight(ready, length, runs):
    assert DAYS.begin(ready, length) == runs


@pytest.mark.parametrize(
    ("ready", "runs"),
    [
        (0, (0, 600)),
        (240, (240, 840)),
        (250, (270, 870)),
        (480, (480, 1080)),
        (481, (1440, 2040)),
        (1921, None),
    ],
)
def test_waits_begin_while_somebody_is_there_and_run_on(ready, runs):
    assert DAYS.wait(ready, 600) == runs


def test_open_time():
    assert (DAYS.open_until(255), DAYS.open_between(200, 300), DAYS.open_between(300, 200)) == (
        240,
        70,
        -70,
    )
    assert (DAYS.after(200, 70), DAYS.after(0, 240), DAYS.after(0, 900), DAYS.after(0, 901)) == (
        300,
        240,
        1920,
        math.inf,
    )
    assert DAYS.backwards(300).spans == ((0, 30, 0), (60, 300, 0))
    assert ALWAYS.begin(3, 4) == (3, 7) and ALWAYS.after(3, 4) == 7


SPANS = st.lists(
    st.tuples(st.integers(1, 9), st.integers(1, 9), st.booleans()), min_size=1, max_size=5
)


def hours_of(pieces) -> tuple[Hours, dict[int, int]]:
    """Hours from (gap, length, whether a new day begins), and which day each open minute belongs to."""
    spans, minute, day = [], 0, 0
    for gap, length, new in pieces:
        minute, day = minute + gap, day + new
        spans.append((minute, minute + length, day))
        minute += length
    return Hours(spans), {at: day for begin, end, day in spans for at in range(begin, end)}


@settings(max_examples=150, deadline=None)
@given(SPANS, st.integers(0, 60), st.integers(1, 14))
def test_work_begins_at_the_first_minute_it_can(pieces, ready, length):
    """Against a search minute by minute."""
    hours, day_of = hours_of(pieces)
    longest = max(list(day_of.values()).count(day) for day in day_of.values())
    found = None
    for begin in range(ready, max(day_of) + 1):
        worked = [at for at in sorted(day_of) if at >= begin][:length]
        fits = begin in day_of and len(worked) == length
        if fits and (length > longest or day_of[worked[-1]] == day_of[begin]):
            found = (begin, worked[-1] + 1)
            break
    assert hours.begin(ready, length) == found


@settings(max_examples=80, deadline=None)
@given(SPANS, st.integers(-5, 60), st.integers(0, 20))
def test_open_minutes_are_counted(pieces, begin, minutes):
    hours, day_of = hours_of(pieces)
    assert hours.open_until(begin) == sum(at < begin for at in day_of)
    end = hours.after(begin, minutes)
    if math.isfinite(end):
        assert hours.open_between(begin, end) == minutes


def test_the_calendar_knows_days_off_and_the_clock():
    week = Calendar(
        dt.date(2027, 1, 14),
        dt.time(7, 30),
        dt.time(17),
        week=("1", "2", "3", "4", "5"),
        pause=(dt.time(12), dt.time(12, 30)),
    )
    hours = week.hours(3)
    assert [(begin, end) for begin, end, _ in hours.spans[:2]] == [(0, 270), (300, 570)]
    # Thursday, Friday, then Monday: four days after the first
    assert [f"{week.moment(begin):%a %H:%M}" for begin, _, _ in hours.spans[::2]] == [
        "Thu 07:30",
        "Fri 07:30",
        "Mon 07:30",
    ]
    assert week.minute(dt.datetime(2027, 1, 14, 12, 15)) == 285
    assert (week.length, week.open_minutes()) == (570, 540)
    assert week.hours(1, overtime=True).spans[-1] == (300, math.inf, 0)


def test_the_first_day_is_worked_even_if_it_is_a_day_off():
    sunday = Calendar(dt.date(2027, 1, 17), dt.time(8), dt.time(9), week=("1",))
    assert [begin for begin, _, _ in sunday.hours(3).spans] == [0, 1440, 8 * 1440]


@pytest.mark.parametrize(
    "pause", [(dt.time(6), dt.time(7)), (dt.time(18), dt.time(19)), (dt.time(13), dt.time(12))]
)
def test_a_pause_outside_the_hours_is_none(pause):
    assert Calendar(dt.date(2027, 1, 14), dt.time(8), dt.time(17), pause=pause).pause is None


def test_a_day_must_end_after_it_starts():
    with pytest.raises(ValueError, match="end after it starts"):
        Calendar(dt.date(2027, 1, 14), dt.time(8), dt.time(8))


def test_minutes_beyond_the_calendar():
    last = Calendar(dt.date.max, dt.time(8), dt.time(17))
    assert (
        last.moment(60) == dt.datetime(9999, 12, 31, 9)
        and last.moment(1e6) is None
        and last.moment(math.inf) is None
    )


# -- layouts -------------------------------------------------------------------------------------


def test_waits_overlap_with_work_and_people_do_one_thing_at_a_time():
    tasks = [
        task("copy", 60, attended=False),
        task("a", 30),
        task("b", 30),
        task("use", 10, "copy"),
    ]
    layout = schedule.lay_out(tasks, ["x"])
    assert (layout.finish, layout.of["copy"].person, layout.of["use"].start) == (70, "", 60)


def test_named_people_do_their_own_work():
    tasks = [task("a", 30, people=("y",)), task("b", 30, people=("y",)), task("c", 60)]
    layout = schedule.lay_out(tasks, ["x", "y"])
    assert {key: one.person for key, one in layout.of.items()} == {"a": "y", "b": "y", "c": "x"}
    assert layout.finish == 60


def test_work_for_nobody_is_told_with_all_that_waits_for_it():
    tasks = [task("a", 30, people=("z",)), task("b", 30, "a"), task("c", 5)]
    layout = schedule.lay_out(tasks, ["x"])
    assert set(layout.unplaced) == {"a", "b"} and [one.key for one in layout.placed] == ["c"]
    assert layout.chance(100) is None
    assert schedule.lower_bound(tasks, ["x"]) is None
    assert set(schedule.lay_out([task("a", 1), task("w", 9, attended=False)], []).unplaced) == {"a"}


def test_what_the_end_hangs_on_goes_through_people_too():
    tasks = [task("a", 30), task("b", 40), task("c", 10, "a")]
    layout = schedule.lay_out(tasks, ["x"])
    assert layout.finish == 80 and set(layout.chain) == {"a", "b", "c"}
    alone = schedule.critical_path(tasks)  # with people enough
    assert (alone.length, set(alone.paths)) == (40, {("a", "c"), ("b",)})


def test_the_chain_stops_where_work_waited_for_opening():
    layout = schedule.lay_out([task("a", 450), task("b", 60, "a")], ["x"], DAYS)
    assert (layout.of["b"].start, layout.chain) == (1440, ("a", "b"))  # no open minute lies between
    layout = schedule.lay_out([task("a", 400), task("b", 60, "a")], ["x"], DAYS)
    assert (layout.of["b"].start, layout.chain) == (1440, ("b",))  # fifty do, and were too few


def test_the_chance_follows_the_chain():
    """Two tasks of variance 4 in a row, mean 12: twelve more minutes are 12 / √8 deviations."""
    tasks = [Task("a", 0, 6, 12), Task("b", 0, 6, 12, after=("a",))]
    layout = schedule.lay_out(tasks, ["x"])
    assert (layout.finish, layout.variance, layout.chance(12)) == (12, 8, 0.5)
    assert layout.chance(24) == pytest.approx(0.5 * math.erfc(-12 / math.sqrt(8) / math.sqrt(2)))


def test_laid_out_anew_while_it_happens():
    tasks = [task("a", 30), task("b", 30, "a"), task("c", 30, "b"), task("d", 20)]
    real = {"a": Real(5, 50, "x"), "b": Real(50, None, "x"), "gone": Real(0)}
    layout = schedule.lay_out(tasks, ["x"], real=real, now=60)
    assert [(one.key, one.start, one.finish, one.state) for one in layout.placed] == [
        ("a", 5, 50, "done"),
        ("b", 50, 80, "under way"),
        ("c", 80, 110, "planned"),
        ("d", 110, 130, "planned"),
    ]
    assert layout.problems == ("“gone” has happened, but is not among the tasks",)


def test_what_is_overdue_ends_now_at_the_earliest():
    layout = schedule.lay_out(
        [task("a", 30), task("b", 5, "a")], ["x"], real={"a": Real(0, None, "x")}, now=90
    )
    assert (layout.of["a"].finish, layout.of["b"].start) == (90, 90)


def test_somebody_who_was_not_expected_has_done_it():
    layout = schedule.lay_out(
        [task("a", 30), task("b", 5)], ["x"], real={"a": Real(0, None, "guest")}, now=10
    )
    assert (layout.of["a"].person, layout.of["b"].start) == ("guest", 10)


def test_laying_out_from_the_end_leaves_out_what_comes_first():
    web = schedule.net([task("a", 30), task("b", 30, "a"), task("c", 30, "b"), task("d", 30)])
    assert laying.with_room(web, ["x"], DAYS, 100) == {"b", "c", "d"}
    assert laying.with_room(web, ["x"], DAYS, 0) == set()


# -- whatever comes --------------------------------------------------------------------------------

PEOPLE = ("x", "y", "z")
LENGTHS = st.integers(0, 12)


@st.composite
def networks(draw, most: int = 14):
    """Whole minutes, so that everything can be checked minute by minute."""
    tasks = []
    for at in range(draw(st.integers(1, most))):
        minutes = draw(LENGTHS)
        after = tuple(f"t{other}" for other in range(at) if draw(st.integers(0, 3)) == 0)
        people = tuple(draw(st.sets(st.sampled_from(PEOPLE), max_size=2)))
        tasks.append(
            Task(
                f"t{at}",
                minutes,
                minutes,
                minutes,
                draw(st.booleans()),
                after,
                people,
                draw(st.sampled_from([0, 0, 0, 7, 20])),
            )
        )
    return tasks


def assert_valid(tasks, layout, day_of: dict[int, int] | None, people) -> None:
    """Precedence, one thing at a time, allowed hands, and open minutes counted one by one."""
    known = {one.key: one for one in tasks}
    longest = (
        max((list(day_of.values()).count(day) for day in set(day_of.values())), default=0)
        if day_of
        else math.inf
    )
    busy: dict[str, list[tuple[float, float]]] = {}
    for one in layout.placed:
        of = known[one.key]
        assert one.start >= max(of.earliest, layout.now)
        for before in of.after:
            assert layout.of[before].finish <= one.start
        if not of.attended:
            assert one.person == "" and one.finish - one.start == of.likely
            assert day_of is None or one.start in day_of or one.start - 1 in day_of
            continue
        assert one.person in (of.people or people)
        if of.likely:
            busy.setdefault(one.person, []).append((one.start, one.finish))
        if day_of is None:
            assert one.finish - one.start == of.likely
        elif of.likely:
            worked = [at for at in range(int(one.start), int(one.finish)) if at in day_of]
            assert (
                len(worked) == of.likely and worked[0] == one.start and worked[-1] + 1 == one.finish
            )
            assert of.likely > longest or len({day_of[at] for at in worked}) == 1
    for found in busy.values():
        found.sort()
        assert all(end <= begin for (_, end), (begin, _) in itertools.pairwise(found))


@settings(max_examples=60, deadline=None)
@given(networks(), st.integers(1, 3))
def test_every_layout_is_valid_and_none_beats_the_bound(tasks, count):
    people = PEOPLE[:count]
    layout = schedule.lay_out(tasks, people)
    assert_valid(tasks, layout, None, people)
    if not layout.unplaced:
        assert len(layout.placed) == len(tasks)
        assert layout.finish <= max(one.earliest for one in tasks) + sum(
            one.likely for one in tasks
        )
        plain = schedule.lay_out(tasks, people, tries=0)
        assert schedule.lower_bound(tasks, people) - 1e-6 <= layout.finish <= plain.finish
    assert layout == schedule.lay_out(tasks, people)  # the same every time


@settings(max_examples=60, deadline=None)
@given(networks(7), SPANS, st.integers(1, 3))
def test_every_layout_keeps_to_the_hours(tasks, pieces, count):
    hours, day_of = hours_of(pieces)
    people = PEOPLE[:count]
    layout = schedule.lay_out(tasks, people, hours)
    assert_valid(tasks, layout, day_of, people)
    if not layout.unplaced:
        bound = schedule.lower_bound(tasks, people, hours)
        assert bound is not None and bound <= layout.finish + 1e-6


@settings(max_examples=50, deadline=None)
@given(networks(8), st.integers(0, 40), st.data())
def test_what_has_happened_stays_and_the_rest_comes_later(tasks, now, data):
    real = {}
    for one in tasks:
        if data.draw(st.integers(0, 2)) == 0:
            start = data.draw(st.integers(0, 40))
            finish = data.draw(st.sampled_from([None, start, start + 5]))
            real[one.key] = Real(start, finish, data.draw(st.sampled_from(["", "x", "guest"])))
    layout = schedule.lay_out(tasks, PEOPLE, real=real, now=now)
    for one in layout.placed:
        if one.key not in real:
            assert one.state == "planned" and one.start >= now
        else:
            assert one.start == real[one.key].start
            assert one.finish == real[one.key].finish or (
                one.state == "under way" and one.finish >= now
            )


ODD = st.sampled_from([0, 1, 5.5, -3, math.nan, math.inf, -math.inf, 1e308, 1e-300])


@settings(max_examples=80, deadline=None)
@given(
    st.lists(
        st.builds(
            Task,
            st.sampled_from("abcde"),
            ODD,
            ODD,
            ODD,
            st.booleans(),
            st.lists(st.sampled_from("abcdef"), max_size=3).map(tuple),
            st.lists(st.sampled_from("xyq"), max_size=2).map(tuple),
            ODD,
            st.booleans(),
        ),
        max_size=6,
    ),
    st.lists(st.sampled_from("xyx"), max_size=3),
    st.sampled_from([ALWAYS, DAYS, Hours([]), Hours([(5, 5, 0)])]),
    st.dictionaries(
        st.sampled_from("abq"),
        st.builds(Real, ODD, st.one_of(st.none(), ODD), st.sampled_from(["", "x", "w"])),
    ),
)
def test_nothing_is_ever_raised(tasks, people, hours, real):
    found = schedule.critical_path(tasks)
    assert (found.length is None) == bool(found.cycle)
    found.chance(3)
    for layout in (
        schedule.lay_out(tasks, people, hours),
        schedule.lay_out(tasks, people, hours, real=real, now=3),
    ):
        assert len(layout.placed) + len(layout.unplaced) == len({one.key for one in tasks})
        layout.chance(10)
        drawn = schedule.simulate(tasks, layout, runs=5)
        assert drawn is None or len(drawn.ends) == 5
    schedule.lower_bound(tasks, people, hours)
    schedule.laying.with_room(schedule.net(tasks), people, hours, 100)
