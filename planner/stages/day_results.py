"""What the on-site day is: who does what when, what does not fit, and the chance that it ends in time."""

from __future__ import annotations

import dataclasses
import datetime as dt
import functools
from collections.abc import Mapping
from dataclasses import dataclass

from planner.engine import schedule
from planner.engine.schedule import Calendar, Hours, Layout, Real, Simulated
from planner.engine.schedule.tasks import Progress
from planner.record.facts import Id
from planner.stages.day_steps import Shares, task_of
from planner.stages.outline import Outline

NEAR = 1e-6  # minutes


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody the day is laid out for. ``contact_id`` is ``None`` where nobody is named."""

    key: str
    name: str
    contact_id: Id | None = None


@dataclass(frozen=True, slots=True)
class Bar:
    """One step on the day: minutes from the start of work, and who does it ("" for a wait).

    ``critical``: the end of the day hangs on it.
    """

    step: Outline
    start: float
    finish: float
    person: str = ""
    critical: bool = False
    state: Progress = Progress.PLANNED

    @property
    def key(self) -> str:
        return self.step.key

    @property
    def number(self) -> str:
        return self.step.number


@dataclass(frozen=True, slots=True)
class Lane:
    """One person's day, or the waits that need nobody (``person`` is ``None``)."""

    person: Person | None
    bars: tuple[Bar, ...]

    @property
    def minutes(self) -> float:
        """Minutes from begin to end of each, added up; a break that a step spans is in it."""
        return sum(bar.finish - bar.start for bar in self.bars)


@dataclass(frozen=True)
class Day:
    """The on-site day. Lengths and times are in minutes, times from the start of work.

    ``missing`` says what must be known before it can be laid out; then there is no ``layout``.
    ``steps`` are those of the day as laid out, ``moved`` those that do not fit and must be done before it,
    ``shares`` what is done, done before by the plan, or has a day of its own. ``people_assumed``: nobody
    is named, so many are assumed. ``owned`` are the keys of people by the contact who owns a step;
    ``anybody`` are the keys of those who do the steps that nobody owns, empty when that is everybody.
    ``needs`` is how long all that is asked of the day takes at least, moved steps and lunch with it; of that
    ``longest`` is one step after the other along the longest chain, and ``work`` what somebody must stand by
    for. ``evening`` is what was agreed for the evening before.
    """

    date: dt.date | None = None
    calendar: Calendar | None = None
    hours: Hours | None = None
    people: tuple[Person, ...] = ()
    people_assumed: bool = False
    owned: Mapping[Id, str] = dataclasses.field(default_factory=dict)
    anybody: tuple[str, ...] = ()
    shares: Shares = dataclasses.field(default_factory=Shares)
    steps: tuple[Outline, ...] = ()
    moved: tuple[Outline, ...] = ()
    layout: Layout | None = None
    needs: float | None = None
    longest: float | None = None
    work: float | None = None
    evening: float = 0.0
    missing: tuple[str, ...] = ()

    # -- how long --------------------------------------------------------------------------------

    @property
    def length(self) -> float:
        """From the start of work to its end, lunch with it."""
        if self.calendar:
            return self.calendar.length
        return 0.0

    @property
    def finish(self) -> float | None:
        """When the steps that are laid out are done, if each takes its mean time."""
        if self.layout:
            return self.layout.finish
        return None

    @property
    def fits(self) -> bool:
        """All fits into the working hours: at mean times, and nothing had to be moved."""
        return not self.moved and (self.finish is None or self.finish <= self.length + NEAR)

    @property
    def over(self) -> float:
        """By how much the day is too short, at least; nought when all fits."""
        if not self.fits:
            return max((self.needs or 0.0) - self.length, 0.0)
        return 0.0

    @functools.cached_property
    def moved_work(self) -> float:
        """Minutes of attended work that must be done before the day."""
        return sum(schedule.Task(one.key, *one.minutes).mean for one in self.moved if one.attended)

    @functools.cached_property
    def moved_minutes(self) -> float:
        """How long the moved steps take the same people, at least; waits that nobody needs can run at night."""
        return self.moved_work / max(len(self.people), 1)

    @property
    def evening_is_enough(self) -> bool:
        """What must be moved fits into the evening that was agreed."""
        return self.moved_minutes <= self.evening + NEAR

    @functools.cached_property
    def chance(self) -> float | None:
        """The chance that the laid-out steps are done when work ends, 0 to 1, from the critical ones alone.

        An upper estimate: the day ends when the last chain does, and this looks at one. :attr:`simulated`
        looks at all.
        """
        if self.layout:
            return self.layout.chance(self.length)
        return None

    @functools.cached_property
    def simulated(self) -> Simulated | None:
        """Two thousand such days with times that vary; the same ones each time."""
        if self.layout:
            return schedule.simulate(self.tasks, self.layout)
        return None

    @functools.cached_property
    def lower_bound(self) -> float | None:
        """The minute before which no order of work could have these steps done."""
        if self.hours:
            return schedule.lower_bound(self.tasks, [one.key for one in self.people], self.hours)
        return None

    @functools.cached_property
    def tasks(self) -> tuple[schedule.Task, ...]:
        """The steps of the day as tasks."""
        keys = {one.key for one in self.steps}
        return tuple(self.task_of(one, keys) for one in self.steps)

    def task_of(self, one: Outline, within: set[str]) -> schedule.Task:
        """A step as a task for its owner, or for anybody."""
        if one.owner:
            owner = self.owned.get(one.owner.id)
        else:
            owner = None
        return task_of(one, within, (owner,) if owner else self.anybody)

    @functools.cached_property
    def path(self) -> schedule.CriticalPath:
        """The critical path of the day's steps when nobody is short of people."""
        return schedule.critical_path(self.tasks)

    # -- who and when ----------------------------------------------------------------------------

    @functools.cached_property
    def bars(self) -> tuple[Bar, ...]:
        """Every step that is laid out, in order of its start."""
        if self.layout is None:
            return ()
        steps, chain = {one.key: one for one in (*self.steps, *self.moved)}, set(self.layout.chain)
        return tuple(
            Bar(steps[one.key], one.start, one.finish, one.person, one.key in chain, one.state)
            for one in self.layout.placed
        )

    @functools.cached_property
    def lanes(self) -> tuple[Lane, ...]:
        """Each person's steps, in the order of the people."""
        found: dict[str, list[Bar]] = {one.key: [] for one in self.people}
        for bar in self.bars:
            if bar.person:
                found[bar.person].append(bar)
        return tuple(Lane(one, tuple(found[one.key])) for one in self.people)

    @functools.cached_property
    def waits(self) -> Lane:
        """What runs while nobody stands by."""
        return Lane(None, tuple(bar for bar in self.bars if not bar.step.attended))

    @property
    def critical(self) -> tuple[str, ...]:
        """The keys of the steps that the end of the day hangs on, first one first."""
        if self.layout:
            return self.layout.chain
        return ()

    def moment(self, minute: float) -> dt.datetime | None:
        """A minute on the clock of the site (without a zone); ``None`` without working hours."""
        if self.calendar:
            return self.calendar.moment(round(minute))
        return None

    def clock(self, minute: float) -> str:
        """``07:30``; "" without working hours."""
        moment = self.moment(minute)
        if moment:
            return f"{moment:%H:%M}"
        return ""

    # -- while it happens ------------------------------------------------------------------------

    def again(self, real: Mapping[str, Real], now: float) -> Day:
        """The day laid out anew from the minute ``now``, with what has happened by then.

        ``real`` holds steps begun or ended, by key, in minutes as here (``calendar.minute`` makes them from
        a moment) with the person's key. Steps that should have been done before the day are on it once they
        are in ``real``.
        """
        if self.layout is None or self.hours is None:
            return self
        late = tuple(one for one in self.moved if one.key in real)
        steps = (*late, *self.steps)
        keys = {one.key for one in steps}
        tasks = [self.task_of(one, keys) for one in steps]
        layout = schedule.lay_out(
            tasks, [one.key for one in self.people], self.hours, real=real, now=now
        )
        named = {one.key for one in self.people}
        others = dict.fromkeys(
            one.person for one in layout.placed if one.person and one.person not in named
        )
        people = (*self.people, *(Person(key, key) for key in others))
        moved = tuple(one for one in self.moved if one.key not in real)
        return dataclasses.replace(self, people=people, steps=steps, moved=moved, layout=layout)
