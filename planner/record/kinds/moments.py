"""Kinds of days and times, and of yes or no."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

from dateutil import parser

from planner.record.facts import SiteFacts
from planner.record.kinds.base import Described, Kind

_ISO = re.compile(r"^\d{4}-\d{1,2}-\d{1,2}$")


def show_date(day: dt.date) -> str:
    """``Thu 14 Jan 2027``: a weekday helps people notice a wrong date."""
    return f"{day:%a} {day.day} {day:%b %Y}"


class Date(Kind):
    """A day: 2027-01-14, 14 Jan 2027, 14.1.2027."""

    word = "date"
    width = 12
    plain = True

    def show(self, field: Described, value: Any, facts: SiteFacts) -> str:
        if isinstance(value, dt.date):
            return show_date(value)
        return str(value)

    def entered(self, field: Described, value: Any, facts: SiteFacts) -> str:
        return f"{value.day} {value:%b %Y}"

    def read(self, field: Described, text: str, facts: SiteFacts) -> dt.date:
        if _ISO.match(text):
            days_first = {}
        else:
            days_first = {"dayfirst": True, "yearfirst": False}
        try:
            found: dt.date = parser.parse(text, **days_first).date()
        except (ValueError, OverflowError, TypeError) as error:
            raise ValueError("Give a date, such as 14 Jan 2027 or 2027-01-14.") from error
        return found


class Time(Kind):
    """A time of day: 07:30, 7.30, 7, 7:30 pm."""

    word = "time"
    plain = True

    def show(self, field: Described, value: Any, facts: SiteFacts) -> str:
        if isinstance(value, dt.time):
            return value.strftime("%H:%M")
        return str(value)

    def read(self, field: Described, text: str, facts: SiteFacts) -> dt.time:
        text = text.replace(".", ":")
        if ":" not in text and "m" not in text.lower():
            text = f"{text}:00"
        try:
            found: dt.time = parser.parse(text).time().replace(microsecond=0)
        except (ValueError, OverflowError, TypeError) as error:
            raise ValueError("Give a time of day, such as 07:30.") from error
        return found


class YesNo(Kind):
    word = "yes-no"
    width = 10
    plain = True

    def show(self, field: Described, value: Any, facts: SiteFacts) -> str:
        if value:
            return "yes"
        return "no"

    def read(self, field: Described, text: str, facts: SiteFacts) -> bool:
        if text.lower() not in ("yes", "no"):
            raise ValueError("Give yes or no.")
        return text.lower() == "yes"

    def sent(self, field: Described, text: str, facts: SiteFacts) -> str:
        return text.lower()
