"""Hours: how long people's day is at a site."""

from __future__ import annotations

from planner.catalogue.assumptions import Numbers
from planner.record.facts import Site


def day_minutes(site: Site, numbers: Numbers) -> float:
    """The length of a person's day: the site's working hours, which may pass midnight."""
    starts, ends = site.work_starts, site.work_ends
    if starts is None or ends is None or starts == ends:
        return 60 * numbers["seats.day-hours"]
    minutes = (ends.hour - starts.hour) * 60 + ends.minute - starts.minute
    return minutes % 1440 or 1440
