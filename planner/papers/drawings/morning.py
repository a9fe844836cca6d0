"""The morning's curve: who comes, what stands ready, who waits; by minutes, as bars and lines."""

from __future__ import annotations

from collections.abc import Sequence

from planner.engine.surge.answers import Curve
from planner.papers.drawings.shapes import Drawing, Line, Path, Rect, RectLook, Shape, Text, key
from planner.record import units

WIDTH, LEFT, RIGHT = 800, 44, 12
PANEL = 130  # height of each of the two panels
GAP = 44
TITLE = "The morning"
BARS_MOST = 120
COME: RectLook = {"fill": "soft", "opacity": 0.45, "stroke": "edge"}
READY, WAIT, WORST = ("line", 2.0, False), ("stopper", 2.4, False), ("stopper", 1.4, True)


def draw(curve: Curve | None) -> Drawing:
    """Two panels over one time axis: arrivals and desktops ready above, people waiting below."""
    if curve is None:
        words = "It cannot be drawn yet: it takes seat groups with arrivals, templates with standby, and hosts."
        return Drawing(WIDTH, 30, (Text(0, 20, words, 13, "soft"),), TITLE, words)
    minutes = len(curve.arrivals)
    step = max(1, -(-minutes // BARS_MOST))
    come = [sum(curve.arrivals[at : at + step]) for at in range(0, minutes, step)]
    shapes: list[Shape] = []
    scale = (WIDTH - LEFT - RIGHT) / minutes
    above = max(*come, *curve.ready, 1.0)
    shapes += _panel(22, above, _each(step) + " people come, and desktops ready")
    for at, count in enumerate(come):
        tall = PANEL * count / above
        if tall > 0.3:
            shapes.append(
                Rect(
                    LEFT + at * step * scale,
                    22 + PANEL - tall,
                    max(step * scale - 1, 0.6),
                    tall,
                    **COME,
                )
            )
    shapes.append(_line(curve.ready, 22, above, scale, *READY))
    top = 22 + PANEL + GAP
    below = max(*curve.waiting_p95, *curve.waiting, 1.0)
    shapes += _panel(top, below, "people waiting for a desktop")
    shapes.append(_line(curve.waiting_p95, top, below, scale, *WORST))
    shapes.append(_line(curve.waiting, top, below, scale, *WAIT))
    bottom = top + PANEL
    shapes += _clock(curve.first, minutes, scale, bottom)
    legend, tall = _legend(bottom + 34)
    return Drawing(WIDTH, bottom + 34 + tall, (*shapes, *legend), TITLE, _description(curve))


def _each(step: int) -> str:
    if step == 1:
        return "each minute"
    return f"each {step} minutes"


def _panel(top: float, most: float, words: str) -> list[Shape]:
    shapes: list[Shape] = [Text(LEFT, top - 8, words, 12, "soft")]
    for share in (0.0, 0.5, 1.0):
        y = top + PANEL * (1 - share)
        shapes.append(Line(LEFT, y, WIDTH - RIGHT, y, "edge" if share == 0 else "rule"))
        if share:
            value = most * share
            shapes.append(
                Text(LEFT - 6, y + 4, units.show(value, 0 if value >= 3 else 1), 12, "soft", "end")
            )
    return shapes


def _line(
    values: Sequence[float],
    top: float,
    most: float,
    scale: float,
    stroke: str,
    width: float,
    dashed: bool,
) -> Path:
    heights = [top + PANEL * (1 - min(value / most, 1)) for value in values]
    points = tuple((LEFT + (at + 1) * scale, y) for at, y in enumerate(heights))
    if len(points) == 1:
        points = ((LEFT, points[0][1]), points[0])
    return Path(points, stroke, width, dashed)


def _clock(first: int, minutes: int, scale: float, y: float) -> list[Shape]:
    """Ticks at round times of day, as many as there is room for."""
    step = next((one for one in (5, 10, 15, 30, 60, 120, 240) if minutes / one <= 12), 240)
    shapes: list[Shape] = []
    start = first + (-first) % step
    for minute in range(start, first + minutes + 1, step):
        x = LEFT + (minute - first) * scale
        shapes.append(Line(x, y, x, y + 5, "edge"))
        shapes.append(Text(x, y + 19, _time(minute), 12, "soft", "middle"))
    return shapes


def _time(minute: int) -> str:
    return f"{minute // 60 % 24:02}:{minute % 60:02}"


def _legend(y: float) -> tuple[list[Shape], float]:
    shapes, tall = key(LEFT, y, [(COME, "people come")], 140)
    at = LEFT + 130.0
    for (stroke, width, dashed), words in (
        (READY, "desktops ready"),
        (WAIT, "waiting, on average"),
        (WORST, "waiting, 95 mornings of 100 no more"),
    ):
        shapes.append(Line(at, y + 6, at + 26, y + 6, stroke, width, dashed))
        shapes.append(Text(at + 32, y + 10.5, words, 12, "soft"))
        at += 32 + 6.6 * len(words) + 24
    return shapes, tall


def _description(curve: Curve) -> str:
    """The conclusion: when most wait, and when all of them have a desktop."""
    worst = max(range(len(curve.waiting)), key=curve.waiting.__getitem__)
    if curve.waiting[worst] < 0.05:
        return f"Hardly anybody waits; {units.show(sum(curve.arrivals), 0)} sign-ins on average."
    return (
        f"{units.show(sum(curve.arrivals), 0)} sign-ins on average. Most people wait at {_time(curve.first + worst)}: "
        f"{units.show(curve.waiting[worst])} on average, on 95 mornings of 100 no more than "
        f"{units.show(max(curve.waiting_p95), 0)}."
    )
