"""Schedule: the critical path, three-point estimates, and work laid out for the people who are there.

- :func:`critical_path` — early and late times, slack, the chance to be done by a time;
- :func:`lay_out` — tasks placed for people in open time, anew when reality has moved on;
- :func:`lower_bound` — the minute no layout can beat;
- :func:`simulate` — the chance when everything varies, not the chain alone;
- :class:`Hours`, :class:`Calendar` — open time in minutes, and on the clock.

Minutes are counted from the start; see each module for its rules and sources.
"""

from planner.engine.schedule.bounds import lower_bound
from planner.engine.schedule.chances import Simulated, simulate
from planner.engine.schedule.hours import ALWAYS, Calendar, Hours
from planner.engine.schedule.laying import Layout, Placed, lay_out
from planner.engine.schedule.path import CriticalPath, Times, critical_path, normal_chance
from planner.engine.schedule.table import Real
from planner.engine.schedule.tasks import LONGEST, Net, Task, net

__all__ = [
    "ALWAYS",
    "LONGEST",
    "Calendar",
    "CriticalPath",
    "Hours",
    "Layout",
    "Net",
    "Placed",
    "Real",
    "Simulated",
    "Task",
    "Times",
    "critical_path",
    "lay_out",
    "lower_bound",
    "net",
    "normal_chance",
    "simulate",
]
