"""Moments, in the site's own time."""

from __future__ import annotations

import contextlib
import datetime as dt
import zoneinfo

from planner.record.chapters import show_date


def show_moment(at: dt.datetime | None, zone: str) -> str:
    """``Thu 14 Jan 2027, 10:42``, in the site's time zone where it is one; "" for an unknown moment."""
    if at is None:
        return ""
    if at.tzinfo is not None:
        # An unknown zone leaves the moment as it was written down.
        with contextlib.suppress(
            ValueError, OSError, OverflowError, zoneinfo.ZoneInfoNotFoundError
        ):
            if zone:
                at = at.astimezone(zoneinfo.ZoneInfo(zone))
            else:
                at = at.astimezone(dt.UTC)
    return f"{show_date(at.date())}, {at:%H:%M}"
