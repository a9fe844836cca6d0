"""The timeline of the on-site day: every step at its time, legible, and the same on paper."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re
import xml.etree.ElementTree as ET

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from reportlab.graphics import renderPDF

from planner.engine.schedule import Real
from planner.papers.drawings import (
    shapes,
    timeline,
    timeline_lanes,
    timeline_words,
    to_reportlab,
    to_svg,
)
from planner.plan import Plan
from planner.record import facts as f
from planner.stages import read
from tests.factories import make, plan_of
from tests.papers.test_drawings import ODD, assert_legible, flat, texts, words
from tests.stages.examples import clinic
from tests.stages.odd import facts
from tests.stages.test_day import assume, changed, sealed

EARLY = dt.date(2026, 4, 6)


def odd_names() -> Plan:
    """Every name is as awkward as can be."""
    found = sealed(EARLY, ODD, "B")
    images = tuple(dataclasses.replace(image, name=ODD) for image in found.images)
    templates = tuple(dataclasses.replace(template, name=ODD) for template in found.templates)
    return Plan(dataclasses.replace(found, images=images, templates=templates))


def tiny_steps() -> Plan:
    """An evening of twenty minutes, and a crowd."""
    return Plan(changed(sealed(EARLY, *"ABCDEFGHIJKL"), work_ends=dt.time(7, 50)))


def many_steps() -> Plan:
    """Thirty seat groups and a long day: more words than there is room for."""
    found = clinic(assumed=(assume("schedule.own-day-minutes", 1440),))
    groups = [
        make(f.SeatGroup, name=f"team {n}", template_id=found.templates[0].id, people=2)
        for n in range(60)
    ]
    long = {"work_starts": dt.time(0), "work_ends": dt.time(23, 59)}
    return Plan(
        changed(dataclasses.replace(found, seat_groups=(*found.seat_groups, *groups)), **long)
    )


SITES = {
    "empty": lambda: plan_of(),
    "one person": lambda: Plan(sealed(EARLY, "A. Marsh")),
    "four": lambda: Plan(sealed()),
    "twelve": lambda: Plan(sealed(None, *"ABCDEFGHIJKL")),
    "odd": odd_names,
    "tiny": tiny_steps,
    "many": many_steps,
    "no date": lambda: Plan(changed(sealed(), on_site_date=None)),
}


@pytest.fixture(params=SITES, scope="module")
def plan(request) -> Plan:
    return SITES[request.param]()


def rects(drawing: shapes.Drawing, **look) -> list[shapes.Rect]:
    found = [shape for shape in flat(drawing.shapes) if isinstance(shape, shapes.Rect)]
    return [
        one for one in found if all(getattr(one, name) == value for name, value in look.items())
    ]


def test_no_words_run_into_each_other(plan):
    assert_legible(timeline.draw(plan))


def test_screen_and_paper(plan):
    drawing = timeline.draw(plan)
    root = ET.fromstring(to_svg(drawing, "day"))
    assert root.get("role") == "img"
    picture = to_reportlab(drawing, 480)
    assert renderPDF.drawToString(picture).startswith(b"%PDF")
    for shape in flat(drawing.shapes):
        if isinstance(shape, shapes.Rect):
            assert shape.x >= -0.5 and shape.x + shape.width <= drawing.width + 0.5
            assert shape.y >= -0.5 and shape.y + shape.height <= drawing.height + 0.5


def test_every_step_has_its_time_its_number_and_its_title():
    plan = Plan(sealed(EARLY, "A. Marsh", "B. Reed"))
    drawing = timeline.draw(plan)
    told = [text.text for text in texts(drawing)]
    for bar in plan.day.bars:
        assert bar.number in told and plan.day.clock(bar.start) in told
        title = plan.stages.steps[bar.key].title
        assert (
            f"{plan.day.clock(bar.start)} {bar.number} {shapes.clean(title)}" in drawing.description
        )
        assert title.split()[0] in words(drawing)


def test_bars_are_as_long_as_their_steps_take():
    """No lunch, so that nothing is in two pieces: heights are minutes, and a bar stands at its start."""
    plan = Plan(
        sealed(EARLY, "A. Marsh", "B. Reed", assumed=(assume("schedule.pause-minutes", 0),))
    )
    drawing = timeline.draw(plan)
    bars = [bar for lane in (*plan.day.lanes, plan.day.waits) for bar in lane.bars]
    drawn = [one for one in rects(drawing) if one.height != 12]  # 12: the key's boxes
    assert len(drawn) == len(bars)
    scale = 0.0
    top = min(one.y for one in drawn) - 1
    for bar, one in zip(bars, drawn, strict=True):
        scale = (one.height + 2) / (bar.finish - bar.start)
        assert one.y - 1 == pytest.approx(top + bar.start * scale, abs=0.01)
    assert scale * plan.day.length >= timeline_lanes.TALL - 1


def test_what_the_end_hangs_on_is_told_by_shape_and_weight_not_by_colour_alone():
    plan = Plan(
        sealed(EARLY, "A. Marsh", "B. Reed", assumed=(assume("schedule.pause-minutes", 0),))
    )
    drawing = timeline.draw(plan)
    attended = [bar for lane in plan.day.lanes for bar in lane.bars]
    critical = sum(bar.critical for bar in attended)
    assert 0 < critical < len(attended)
    full, plain = rects(drawing, fill="line"), rects(drawing, fill="paper", stroke="ink")
    assert (len(full) - 1, len(plain) - 1) == (
        critical,
        len(attended) - critical,
    )  # one more of each in the key
    assert min(one.width for one in full[:-1]) > max(one.width for one in plain[:-1])
    bold = {text.text for text in texts(drawing) if text.bold}
    assert any(
        word in bold
        for word in (plan.stages.steps[bar.key].title for bar in attended if bar.critical)
    )
    assert drawing.description.count("(critical)") == len(plan.day.critical)


def test_waits_are_hatched_and_stand_apart():
    plan = Plan(sealed(EARLY, "A. Marsh", "B. Reed"))
    drawing = timeline.draw(plan)
    hatched = [one for one in rects(drawing) if one.hatch and one.height != 12]
    assert len(hatched) == len(plan.day.waits.bars) > 0
    people = [
        one
        for one in rects(drawing)
        if one.fill == "line" or (one.fill == "paper" and not one.hatch)
    ]
    assert min(one.x for one in hatched) > max(one.x for one in people if one.height != 12)


def test_lunch_is_a_band_and_work_pauses_over_it():
    plan = Plan(sealed(EARLY, "A. Marsh", "B. Reed"))
    drawing = timeline.draw(plan)
    [band] = rects(drawing, fill="band")
    assert "lunch" in words(drawing)
    for one in rects(drawing):
        if one.fill == "line" or (one.fill == "paper" and not one.hatch and one.height != 12):
            assert one.y + one.height <= band.y + 0.01 or one.y >= band.y + band.height - 0.01


def test_it_says_how_it_ends():
    plan = Plan(sealed())
    day = plan.day
    told = words(timeline.draw(plan))
    assert f"Done at {day.clock(day.finish)} if every step takes its mean time" in told
    assert f"by 17:00 on {day.simulated.chance(day.length):.0%}".replace("%", " %") in told
    assert "work ends" in told and "all done" in told and "Thu 9 Apr 2026, 07:30 to 17:00" in told
    assert "On a day of its own, after this one: 7." in told
    assert "Done before the day, by the plan: 3." in told


def test_what_has_no_room_is_marked_and_listed():
    plan = Plan(sealed(EARLY, "A. Marsh"))
    told = words(timeline.draw(plan))
    assert f"‡ No room on the day, to be done before it: {len(plan.day.moved)} steps" in told
    assert "‡" not in timeline.draw(plan).description
    assert "‡" not in words(timeline.draw(Plan(sealed())))


def test_the_empty_place_says_what_is_missing():
    drawing = timeline.draw(plan_of())
    assert drawing.description == (
        "The day is not laid out yet. It needs when work starts (1.2), and when work ends (1.2)."
    )
    assert_legible(drawing)


def test_nothing_left_to_do():
    found = sealed()
    checks = Plan(found).stages.checks
    at = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)
    answers = tuple(f.Answer(check=key, state="proven", at=at, proof="seen") for key in checks)
    drawing = timeline.draw(Plan(dataclasses.replace(found, answers=answers)))
    assert drawing.description.startswith("Nothing is left to do on the day. Done already: 3.")
    assert_legible(drawing)


def test_the_day_while_it_happens():
    plan = Plan(sealed(EARLY, "A. Marsh", "B. Reed"))
    first, second = (lane.bars[0] for lane in plan.day.lanes)
    real = {first.key: Real(5, 50, first.person), second.key: Real(5, None, second.person)}
    drawing = timeline.draw(plan, plan.day.again(real, 90))
    assert "now" in words(drawing) and "done" in words(drawing)
    assert rects(drawing, fill="desk") and [
        one for one in drawing.shapes if isinstance(one, shapes.Polygon)
    ]
    assert_legible(drawing)


def test_a_day_that_overruns_is_drawn_to_its_end():
    plan = Plan(sealed())
    late = plan.day.again({}, now=500)
    drawing = timeline.draw(plan, late)
    assert late.finish > late.length
    assert_legible(drawing)
    ends = [
        one for one in drawing.shapes if isinstance(one, shapes.Line) and one.stroke == "stopper"
    ]
    assert ends and all(one.y2 < drawing.height for one in ends)


@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
@given(facts(list(read().checks)[:40]))
def test_any_facts_can_be_drawn(odd):
    drawing = timeline.draw(Plan(odd))
    ET.fromstring(to_svg(drawing, "x"))
    assert_legible(drawing)


# -- where words find room ---------------------------------------------------------------------------


@given(
    st.lists(st.tuples(st.floats(0, 700), st.integers(1, 2)), max_size=40).map(
        lambda found: sorted(found)
    ),
    st.floats(20, 900),
)
@example([(0.0, 1)] * 4, 62.0)
def test_labels_never_run_into_each_other(wanted, tall):
    ideal, lines = [y for y, _ in wanted], [count for _, count in wanted]
    places, hidden = timeline_lanes.labels(ideal, lines, 0, tall)
    assert len(places) + hidden == len(wanted)
    for at, (y, count) in enumerate(zip(places, lines, strict=False)):
        assert y >= 11 - 1e-6
        last = y + count * timeline_lanes.LINE
        assert (
            last
            <= (
                places[at + 1]
                if at + 1 < len(places)
                else max(tall + 9, 11 + timeline_lanes.LINE * 2)
            )
            + 1e-6
        )


def test_labels_with_room_stand_where_they_want():
    assert timeline_lanes.labels([0, 100, 300], [1, 2, 1], 0, 400) == ([11, 111, 311], 0)
    places, _ = timeline_lanes.labels([100, 100], [1, 1], 0, 400)
    assert places == pytest.approx([111 - timeline_lanes.LINE / 2, 111 + timeline_lanes.LINE / 2])


def test_long_notes_are_wrapped_and_cut():
    note = " ".join(f"7.{number}" for number in range(400))
    lines = list(timeline_words.wrapped([note], 300, most=3))
    assert len(lines) == 3 and lines[-1].endswith(" …")
    assert re.match("7.0 7.1 ", lines[0]) and all(
        shapes.width_of(line, 12) <= 320 for line in lines
    )
