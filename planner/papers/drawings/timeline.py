"""The timeline of the on-site day: time runs down, one column a person, one for what needs nobody.

Every step is a bar as long as it takes, with its time, number and title beside it. What the end of the
day hangs on is a full, wide bar with bold words; a wait is hatched.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from planner.engine.schedule.tasks import Progress
from planner.papers.drawings import timeline_lanes as lanes
from planner.papers.drawings import timeline_words as tell
from planner.papers.drawings.shapes import (
    Drawing,
    Line,
    Polygon,
    Rect,
    RectLook,
    Shape,
    Text,
    fit,
    key,
    width_of,
)
from planner.plan import Plan
from planner.stages.day_results import Day, Lane
from planner.stages.day_words import length_words

WIDTH, LEFT, COLUMN = 800, 70, 190  # of the drawing at least; of the clock; of a column at least
MOST_LANES = 8  # people with a column; the rest are counted
NARROW = 0.9  # of a person's column: the one of the waits
TITLE = "The on-site day"
LUNCH: RectLook = {"fill": "band"}
PLAIN: RectLook = {"fill": "paper", "stroke": "ink", "stroke_width": 1}
CRITICAL: RectLook = {"fill": "line"}
WAIT: RectLook = {"fill": "paper", "hatch": "edge", "stroke": "edge"}
CRITICAL_WAIT: RectLook = {
    "fill": "paper",
    "hatch": "line",
    "stroke": "line",
    "stroke_width": 2,
}
DONE: RectLook = {"fill": "desk", "stroke": "edge"}


@dataclass(frozen=True)
class Sheet:
    """Where things are: the top of the first minute, pixels a minute, the last minute drawn."""

    day: Day
    top: float
    scale: float
    last: float
    width: float

    def y(self, minute: float) -> float:
        return self.top + min(max(minute, 0.0), self.last) * self.scale


def draw(plan: Plan, day: Day | None = None) -> Drawing:
    """The plan's on-site day, or ``day`` in its place (laid out anew); says what is missing while there is none."""
    day = day or plan.day
    if day.missing or day.layout is None:
        if day.missing:
            reasons = [f"It needs {', and '.join(day.missing)}."]
        else:
            reasons = ["Nothing can be laid out."]
        return _sentence(["The day is not laid out yet.", *reasons])
    if not day.bars:
        return _sentence(["Nothing is left to do on the day.", *tell.notes(day)])
    steps = plan.stages.steps
    titles = {bar.key: steps[bar.key].title if bar.key in steps else bar.key for bar in day.bars}
    shown = [lane for lane in day.lanes if lane.bars][:MOST_LANES]
    if day.waits.bars:
        columns = [*shown, day.waits]
    else:
        columns = shown
    width = max(WIDTH, LEFT + len(columns) * COLUMN)
    head, top = _head(day, columns, width)
    last = max(day.length, day.finish or 0.0)
    scale = lanes.scale([lane.bars for lane in columns], last)
    sheet = Sheet(day, top, scale, last, width)
    shapes: list[Shape] = [*head, *_ground(sheet)]
    for lane, x, room in _across(columns, width):
        shapes += _column(sheet, lane, x, room, titles)
    foot, bottom = _foot(day, sheet.y(last) + 24, width)
    return Drawing(width, bottom, (*shapes, *foot), TITLE, tell.description(day, columns, titles))


def _across(columns: list[Lane], width: float) -> Iterator[tuple[Lane, float, float]]:
    """Each column with its left edge and its room."""
    share = (width - LEFT) / sum(1 if lane.person else NARROW for lane in columns)
    x = float(LEFT)
    for lane in columns:
        room = share * (1 if lane.person or len(columns) == 1 else NARROW)
        yield lane, x, room - 16
        x += room


# -- What stands above and below ---------------------------------------------------------------------


def _head(day: Day, columns: list[Lane], width: float) -> tuple[list[Shape], float]:
    shapes: list[Shape] = [fit(0, 14, tell.when(day), width, size=14, bold=True)]
    lead = width_of(tell.when(day), 14, True) + 14
    if lead + width_of(tell.outcome(day)) <= width:
        shapes.append(Text(lead, 14, tell.outcome(day)))
        y = 44.0
    else:
        shapes.append(fit(0, 33, tell.outcome(day), width))
        y = 62.0
    for line in tell.wrapped(tell.moved(day), width, most=4):
        shapes.append(fit(0, y - 8, line, width, size=12, role="stopper"))
        y += 17
    y += 6 if day.moved else 0
    for lane, x, room in _across(columns, width):
        if lane.person:
            name = lane.person.name
        else:
            name = "Waits"
        if lane.person:
            under = f"{length_words(tell.work(day, lane))} of work"
        else:
            under = "nobody stands by"
        shapes.append(fit(x, y, name, room, size=13, bold=True))
        shapes.append(fit(x, y + 15, under, room, size=11, role="soft"))
    return shapes, y + 28


def _foot(day: Day, y: float, width: float) -> tuple[list[Shape], float]:
    """The key of the bars, then the notes."""
    bars = day.bars
    entries: list[tuple[RectLook, str]] = [(CRITICAL, "a delay here delays the end")]
    if any(bar.step.attended and not bar.critical for bar in bars):
        entries.append((PLAIN, "work with time to spare"))
    if any(not bar.step.attended for bar in bars):
        entries.append((WAIT, "a wait: nobody stands by"))
    if any(not bar.step.attended and bar.critical for bar in bars):
        entries.append((CRITICAL_WAIT, "a wait that the end hangs on"))
    if any(bar.state == Progress.DONE for bar in bars):
        entries.append((DONE, "done"))
    shapes, tall = key(LEFT, y, entries, width - LEFT)
    y += tall + 8
    hidden = sum(1 for lane in day.lanes if lane.bars) - MOST_LANES
    notes = [f"And {hidden} more people, not drawn." if hidden > 0 else "", *tell.notes(day)]
    for line in tell.wrapped([note for note in notes if note], width - LEFT):
        shapes.append(fit(LEFT, y + 10, line, width - LEFT, size=12))
        y += 17
    return shapes, y + 4


# -- The sheet ---------------------------------------------------------------------------------------


def _ground(sheet: Sheet) -> Iterator[Shape]:
    """Lunch, the hours on the clock, when work ends and when all is done."""
    day, width = sheet.day, sheet.width
    if day.calendar:
        pause = day.calendar.pause
    else:
        pause = None
    finish = day.finish or 0.0
    over = finish > day.length + 1
    if pause:
        yield Rect(
            LEFT - 6,
            sheet.y(pause[0]),
            width - LEFT + 6,
            sheet.y(pause[1]) - sheet.y(pause[0]),
            **LUNCH,
        )
        for minute in pause:
            yield Line(LEFT - 6, sheet.y(minute), width, sheet.y(minute), "rule", 0.8)
    yield Line(LEFT - 6, sheet.top, LEFT - 6, sheet.y(sheet.last), "edge", 0.8)
    yield Line(
        LEFT - 6, sheet.y(day.length), width, sheet.y(day.length), "stopper" if over else "ink", 1.8
    )
    yield from _clock(sheet, finish, pause)


def _clock(sheet: Sheet, finish: float, pause: tuple[float, float] | None) -> Iterator[Shape]:
    """The times at the left: what ends when first, then the hours that have room beside it."""
    day = sheet.day
    marks = [(day.length, "work ends")]
    if abs(finish - day.length) > 1:
        marks.append((finish, "all done"))
    if day.layout:
        now = day.layout.now
    else:
        now = 0.0
    if 0 < now <= sheet.last:
        marks.append((now, "now"))
        y = sheet.y(now)
        yield Polygon(((LEFT - 6, y - 5), (LEFT - 6, y + 5), (LEFT + 1, y)), "ink")
    if pause:
        marks.append((pause[0], "lunch"))
    marks += [(minute, "") for minute in _hours(day, sheet.last)]
    taken: list[tuple[float, float]] = []
    for minute, words in marks:
        y, tall = sheet.y(minute), 24 if words else 12
        if any(y + tall > begin and y < end for begin, end in taken):
            continue
        taken.append((y, y + tall))
        main = words in ("work ends", "all done", "now")
        yield Line(LEFT - 12, y, LEFT - 6, y, "ink" if main else "edge", 1.8 if main else 0.8)
        yield Text(LEFT - 15, y + 4, day.clock(minute), 12, "ink" if main else "soft", "end", main)
        if words:
            yield Text(LEFT - 15, y + 16, words, 11, "soft", "end")


def _hours(day: Day, last: float) -> Iterator[float]:
    """The minutes at which an hour strikes, and the first one."""
    start = day.moment(0)
    if start:
        first = (60 - start.minute) % 60
    else:
        first = 0
    if first:
        yield 0.0
    step = 60 * max(1, round(last / 60 / 30))
    minute = float(first)
    while minute <= last:
        yield minute
        minute += step


def _column(
    sheet: Sheet, lane: Lane, x: float, room: float, titles: Mapping[str, str]
) -> Iterator[Shape]:
    """One person's bars, or the waits, with their words."""
    tracks = lanes.tracks(lane.bars)
    if lane.person:
        wide = lanes.BAR
    else:
        wide = min(lanes.BAR, 40 / (max(tracks.values(), default=0) + 1))
    strip = wide * (max(tracks.values(), default=0) + 1)
    if not lane.person:
        yield Line(x - 10, sheet.top - 40, x - 10, sheet.y(sheet.last), "rule")
    for bar in lane.bars:
        yield from _bar(sheet, bar, x + tracks[bar.key] * wide, wide)
    yield from _words(sheet, lane, (x, wide, strip), room, titles)


def _words(
    sheet: Sheet,
    lane: Lane,
    strips: tuple[float, float, float],
    room: float,
    titles: Mapping[str, str],
) -> Iterator[Shape]:
    """Time, number and title of each bar, in two lines where there is room, joined to it by a thin line."""
    x, wide, strip = strips
    tracks = lanes.tracks(lane.bars)
    bottom = sheet.y(sheet.last)
    at = x + strip + 14
    told = [_title(bar, titles[bar.key], x + room - at - 32) for bar in lane.bars]
    begins = [sheet.y(bar.start) for bar in lane.bars]
    places, hidden = lanes.labels(begins, [len(lines) for lines in told], sheet.top, bottom)
    if hidden:
        told = [[titles[bar.key]] for bar in lane.bars]
        places, hidden = lanes.labels(begins, [1] * len(told), sheet.top, bottom)
    for bar, lines, begin, y in zip(lane.bars, told, begins, places, strict=False):
        edge = x + (tracks[bar.key] + 1) * wide
        yield Line(edge - 1, begin + 1.5, x + strip + 3, begin + 1.5, "edge", 0.7)
        yield Line(x + strip + 3, begin + 1.5, at - 3, y - 4, "edge", 0.7)
        yield Text(at, y, sheet.day.clock(bar.start), 11, "soft")
        yield Text(at + 32, y, bar.number, 12, "ink", bold=True)
        indent = width_of(bar.number, 12, True) + 5
        for line, text in enumerate(lines):
            step = 0 if line else indent
            left = x + room - at - 32 - step
            ends = bar.number[
                -1:
            ].isalpha()  # one of several: what tells them apart stands at the end
            yield fit(
                at + 32 + step,
                y + line * lanes.LINE,
                text,
                left,
                size=12,
                bold=bar.critical,
                middle=ends,
            )
    if hidden:
        yield fit(at, bottom + 14, f"and {hidden} more", x + room - at, size=11, role="soft")


def _title(bar: lanes.Bar, title: str, room: float) -> list[str]:
    """A title in one line or two."""
    indent = width_of(bar.number, 12, True) + 5
    if width_of(title, 12, bar.critical) <= room - indent:
        return [title]
    first: list[str] = []
    words = title.split()
    while words and width_of(" ".join([*first, words[0]]), 12, bar.critical) <= room - indent:
        first.append(words.pop(0))
    if first and words:
        return [" ".join(first), " ".join(words)]
    return [title]


def _bar(sheet: Sheet, bar: lanes.Bar, x: float, wide: float) -> Iterator[Shape]:
    """A bar; over a break that it spans only a thin line."""
    if bar.state == Progress.DONE:
        look = DONE
    elif bar.step.attended:
        if bar.critical:
            look = CRITICAL
        else:
            look = PLAIN
    else:
        if bar.critical:
            look = CRITICAL_WAIT
        else:
            look = WAIT
    if bar.critical:
        inset = 0.0
    else:
        inset = 2.5
    for begin, end in lanes.pieces(bar, sheet.day):
        top, bottom = sheet.y(begin), sheet.y(end)
        high = max(
            bottom - top - 2, min(1.5, bottom - top)
        )  # a bare line where there is no room for more
        yield Rect(x + inset, min(top + 1, bottom - high), wide - 2 - 2 * inset, high, **look)
    if bar.step.attended and (inner := lanes.pieces(bar, sheet.day)) and len(inner) > 1:
        yield Line(
            x + wide / 2 - 1,
            sheet.y(inner[0][1]),
            x + wide / 2 - 1,
            sheet.y(inner[-1][0]),
            "ink",
            1,
        )
    if bar.state == Progress.UNDER_WAY:
        y = sheet.y(bar.finish)
        yield Polygon(((x, y - 6), (x + wide - 2, y - 6), (x + wide / 2 - 1, y)), "concern")


def _sentence(lines: list[str]) -> Drawing:
    """What must be known before there is a day to draw."""
    shapes: list[Shape] = [Text(0, 20, lines[0], 14, bold=True)]
    rest = list(tell.wrapped(lines[1:], WIDTH, 13))
    shapes += [fit(0, 42 + at * 19, line, WIDTH, role="soft") for at, line in enumerate(rest)]
    return Drawing(WIDTH, 42 + len(rest) * 19, tuple(shapes), TITLE, " ".join(lines))
