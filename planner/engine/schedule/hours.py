"""When people are there: open time, in minutes from the start, and what that is on the clock."""

from __future__ import annotations

import datetime as dt
import itertools
from bisect import bisect_left, bisect_right
from collections.abc import Sequence

DAY = 1440.0
NEAR = 1e-7  # minutes: two sums of the same times may differ in the last digits
MOST_DAYS = 400  # a calendar longer than that is no on-site work


class Hours:
    """Stretches of open time. Each span is (from, to, day): minutes from the start, and whose day it is.

    Attended work runs in open time. It pauses over a break of its day and goes on behind it, but it is
    not begun where it could not be ended on the same day, unless no day is long enough for it. A wait
    begins when somebody is there to start it and runs on through breaks and nights.

    Spans are in order and do not overlap; empty ones are passed over.
    """

    def __init__(self, spans: Sequence[tuple[float, float, int]]):
        self.spans = tuple(span for span in spans if span[1] > span[0])
        self._from = [span[0] for span in self.spans]
        self._to = [span[1] for span in self.spans]
        self._day = [span[2] for span in self.spans]
        self._open = [0.0, *itertools.accumulate(end - begin for begin, end, _ in self.spans)]
        last: dict[int, int] = {day: at for at, day in enumerate(self._day)}
        self._last = [last[day] for day in self._day]  # the last span of each span's day
        first = [bisect_left(self._day, day) for day in self._day]
        days = [
            self._open[end + 1] - self._open[begin]
            for begin, end in zip(first, self._last, strict=True)
        ]
        self._longest = max(days, default=0.0)  # open minutes of the longest day
        self._simple = len(self.spans) == 1 and self._to[0] == float("inf")

    def begin(self, ready: float, length: float) -> tuple[float, float] | None:
        """When attended work of so many minutes, ready at that minute, begins and ends; ``None``: never."""
        if self._simple:
            begin = max(ready, self._from[0])
            return begin, begin + length
        at = bisect_right(self._to, ready)
        while at < len(self._to):
            begin = max(ready, self._from[at])
            last = self._last[at]
            left = self._to[at] - begin
            if last > at:
                left += self._open[last + 1] - self._open[at + 1]
            if length <= left + NEAR or length > self._longest:
                end = self._end(at, begin, length)
                if end is None:
                    return None
                return (begin, end)
            at = last + 1
        return None

    def _end(self, at: int, begin: float, length: float) -> float | None:
        """When work that begins in span ``at`` is done."""
        while length > self._to[at] - begin + NEAR:
            length -= self._to[at] - begin
            at += 1
            if at == len(self._to):
                return None
            begin = self._from[at]
        return begin + length

    def wait(self, ready: float, length: float) -> tuple[float, float] | None:
        """When a wait of so many minutes begins and ends: in open time, or just as it closes."""
        at = bisect_left(self._to, ready)
        if at == len(self._to):
            return None
        begin = max(ready, self._from[at])
        return begin, begin + length

    def open_until(self, minute: float) -> float:
        """Open minutes before ``minute``."""
        at = bisect_right(self._from, minute)
        if not at:
            return 0.0
        return self._open[at - 1] + min(minute, self._to[at - 1]) - self._from[at - 1]

    def open_between(self, begin: float, end: float) -> float:
        """Open minutes from one minute to the other; less than nought when the second is earlier."""
        return self.open_until(end) - self.open_until(begin)

    def after(self, begin: float, minutes: float) -> float:
        """The minute at which so much open time has passed since ``begin``; infinite when it never does."""
        wanted = self.open_until(begin) + minutes
        at = bisect_left(self._open, wanted, 1) - 1
        if at >= len(self.spans):
            return float("inf")
        return max(self._from[at] + wanted - self._open[at], begin)

    def backwards(self, end: float) -> Hours:
        """The same open time told back from ``end``: for laying out from there towards the beginning."""
        told = [
            (end - min(to, end), end - begin, -day)
            for begin, to, day in reversed(self.spans)
            if begin < end
        ]
        return Hours(told)


ALWAYS = Hours([(0.0, float("inf"), 0)])


class Calendar:
    """Working days on the clock. Minute 0 is ``starts`` on the ``first`` day, in the site's own time.

    ``starts``, ``ends`` and the pause are clock times; every day of ``week`` (ISO numbers, "1" Monday;
    empty: every day) is a working day, and the first day is one whatever it is. Minutes are those of the
    clock on the wall: in the night in which the clocks change they are an hour out.

    Raises ``ValueError`` when the day does not end after it starts.
    """

    def __init__(
        self,
        first: dt.date,
        starts: dt.time,
        ends: dt.time,
        *,
        week: Sequence[str] = (),
        pause: tuple[dt.time, dt.time] | None = None,
    ):
        if ends <= starts:
            raise ValueError("the day must end after it starts")
        self.first, self.week = first, frozenset(week)
        self.start = dt.datetime.combine(first, starts.replace(tzinfo=None))
        self.length = self._minutes(ends)
        self.pause = None
        if pause:
            begin, end = (min(max(self._minutes(time), 0.0), self.length) for time in pause)
            self.pause = (begin, end) if begin < end else None

    def _minutes(self, time: dt.time) -> float:
        then = dt.datetime.combine(self.first, time.replace(tzinfo=None))
        return (then - self.start).total_seconds() / 60

    def moment(self, minute: float) -> dt.datetime | None:
        """The date and time of a minute, without a zone; ``None`` beyond what a calendar holds."""
        try:
            return self.start + dt.timedelta(minutes=minute)
        except (OverflowError, ValueError):
            return None

    def minute(self, moment: dt.datetime) -> float:
        """The minute of a moment in the site's own time."""
        return (moment.replace(tzinfo=None) - self.start).total_seconds() / 60

    def open_minutes(self) -> float:
        """Open minutes of one day."""
        return self.length - (self.pause[1] - self.pause[0] if self.pause else 0.0)

    def hours(self, days: int = 1, *, overtime: bool = False) -> Hours:
        """The open time of so many working days. ``overtime`` keeps the last one open without an end."""
        spans: list[tuple[float, float, int]] = []
        for number, offset in enumerate(self._offsets(min(days, MOST_DAYS))):
            begin = offset * DAY
            if self.pause:
                spans.append((begin, begin + self.pause[0], number))
                begin += self.pause[1]
            spans.append((begin, offset * DAY + self.length, number))
        if overtime and spans:
            spans[-1] = (spans[-1][0], float("inf"), spans[-1][2])
        return Hours(spans)

    def _offsets(self, days: int) -> list[int]:
        """How many days after the first each working day lies."""
        weekday = self.first.isoweekday()
        open_days = self.week & set("1234567")
        found = [0]
        for offset in range(1, days * 7):
            if len(found) >= days:
                break
            if not open_days or str((weekday + offset - 1) % 7 + 1) in open_days:
                found.append(offset)
        return found[: max(days, 0)]
