"""Moments, in the site's own time."""

from __future__ import annotations

import datetime as dt
import zoneinfo

from planner.chapters import show_date


def show_moment(at: dt.datetime | None, zone: str) -> str:
    """``Thu 14 Jan 2027, 10:42``, in the site's time zone where it is one; "" for an unknown moment."""
    if at is None:
        return ""
    if at.tzinfo is not None:
        try:
            at = at.astimezone(zoneinfo.ZoneInfo(zone)) if zone else at.astimezone(dt.UTC)
        except (ValueError, OSError, OverflowError, zoneinfo.ZoneInfoNotFoundError):
            pass  # an unknown zone: the moment stays as it was written down
    return f"{show_date(at.date())}, {at:%H:%M}"
