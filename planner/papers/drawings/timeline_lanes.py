"""The timeline's columns: how tall a minute is, where each bar stands, and where its words find room."""

from __future__ import annotations

from collections.abc import Sequence

from planner.stages.day_results import Bar, Day

BAR = 18.0  # width of a bar
LINE = 15.5  # height of a label's line
TALL, TALLEST = 700.0, 1900.0  # of the sheet, at least and at most
TRACKS = 4  # bars side by side; more lie over each other, and only their words tell them apart


def scale(columns: Sequence[Sequence[Bar]], last: float) -> float:
    """Pixels a minute: enough for about two lines of words for each step of the fullest column."""
    most = max((len(bars) for bars in columns), default=0)
    tall = min(max(TALL, (most + 2) * LINE * 1.9), TALLEST)
    return tall / max(last, 1.0)


def labels(
    ideal: Sequence[float], lines: Sequence[int], top: float, bottom: float
) -> tuple[list[float], int]:
    """First base lines of labels that want to stand at ``ideal`` heights, in order, none over another.

    ``lines`` is how many lines each takes. Each stands as near to its own height as those around it let
    it. Gives the base lines, and how many labels find no room at all.
    """
    most = max(
        int((bottom - top - 2) // LINE), 1
    )  # from the first base line, 11 below the top, to 9 below the bottom
    shown = 0
    while shown < len(ideal) and sum(lines[: shown + 1]) <= most:
        shown += 1
    above = [
        sum(lines[:at]) * LINE for at in range(shown)
    ]  # what stands over each, if nothing lies between
    low, high = top + 11, bottom + 9 - sum(lines[:shown]) * LINE
    level = [
        min(max(y, low), max(high, low))
        for y in _rising([max(y, top) + 11 - up for y, up in zip(ideal, above, strict=False)])
    ]
    return [y + up for y, up in zip(level, above, strict=True)], len(ideal) - shown


def _rising(values: Sequence[float]) -> list[float]:
    """The values nearest to these (by squares) of which none is less than the one before it.

    Source: Ayer and others, Annals of Mathematical Statistics 26(4), 1955: neighbours out of order are
    given their mean (from memory).
    """
    blocks: list[tuple[float, int]] = []
    for value in values:
        mean, count = value, 1
        while blocks and blocks[-1][0] > mean:
            before, many = blocks.pop()
            mean, count = (before * many + mean * count) / (many + count), many + count
        blocks.append((mean, count))
    return [mean for mean, count in blocks for _ in range(count)]


def tracks(bars: Sequence[Bar]) -> dict[str, int]:
    """Side by side where bars overlap in time: each bar's track, 0 first, at most :data:`TRACKS` of them."""
    free: list[float] = []
    found: dict[str, int] = {}
    for bar in sorted(bars, key=lambda one: (one.start, one.finish)):
        track = next((at for at, until in enumerate(free) if until <= bar.start + 1e-6), len(free))
        if track == len(free) and track < TRACKS:
            free.append(bar.finish)
        elif track == len(free):
            track = min(range(TRACKS), key=free.__getitem__)
        free[track] = max(free[track], bar.finish)
        found[bar.key] = track
    return found


def pieces(bar: Bar, day: Day) -> list[tuple[float, float]]:
    """The stretches of a bar that are worked: without the break it spans. A wait runs through."""
    if day.calendar:
        pause = day.calendar.pause
    else:
        pause = None
    if not bar.step.attended or not pause or bar.finish <= pause[0] or bar.start >= pause[1]:
        return [(bar.start, bar.finish)]
    parts = [(bar.start, min(bar.finish, pause[0])), (max(bar.start, pause[1]), bar.finish)]
    return [(begin, end) for begin, end in parts if end > begin]


__all__ = ["BAR", "LINE", "Bar", "labels", "pieces", "scale", "tracks"]
