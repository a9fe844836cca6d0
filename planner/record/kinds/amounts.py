"""Kinds of amounts: numbers with an optional unit, shares, lengths of time."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from planner.record import units
from planner.record.facts import SiteFacts
from planner.record.kinds.base import Described, Kind

DIGITS = 6  # after the point: as many as a form keeps
NUMBERS_OF_THINGS = ("vlan", "tcp_port", "udp_port")  # names, not amounts: 3389, never 3,389
LENGTHS = ((1440, "day"), (60, "h"), (1, "min"))


class Amount(Kind):
    """A number, kept in the field's own unit; typed alone or with one of the field's units."""

    numeric = True
    width = 12
    scale = 1.0  # what is typed and shown, of what is kept

    def units_of(self, field: Described) -> Mapping[str, float]:
        """The units that may be typed, each with its factor to the field's own."""
        if field.units:
            return {unit.lower(): factor for unit, factor in field.units.items()}
        if field.unit:
            return {field.unit.lower(): 1.0}
        return {}

    def show(self, field: Described, value: Any, facts: SiteFacts) -> str:
        return units.show(float(value), 2)

    def written(self, field: Described, value: Any, facts: SiteFacts) -> str:
        return f"{units.show(float(value) * self.scale, DIGITS)} {field.unit}".strip()

    def entered(self, field: Described, value: Any, facts: SiteFacts) -> str:
        return units.show(float(value) * self.scale, DIGITS).replace(",", "")

    def read(self, field: Described, text: str, facts: SiteFacts) -> int | float:
        try:
            number = units.parse(text, dict(self.units_of(field)))
        except ValueError as error:
            raise ValueError(f"{error}.") from error
        if not math.isfinite(number):
            raise ValueError("That number is too large.")
        return self.bounded(field, number / self.scale)

    def bounded(self, field: Described, number: float) -> int | float:
        """The number as it is kept. Raises ``ValueError`` for one that can never be true."""
        low, high = field.low, field.high
        if (low is not None and number < low) or (high is not None and number > high):
            least = units.show((low or 0) * self.scale)
            most = units.show((high or 0) * self.scale)
            raise ValueError(f"Give a number from {least} to {most}.")
        if self.whole:
            return round(number)
        return number


class Number(Amount):
    word = "number"


class Whole(Amount):
    word = "whole"
    whole = True

    def show(self, field: Described, value: Any, facts: SiteFacts) -> str:
        if field.name in NUMBERS_OF_THINGS:
            return str(value)
        return super().show(field, value, facts)

    def written(self, field: Described, value: Any, facts: SiteFacts) -> str:
        text = self.show(field, value, facts)
        if field.unit:
            return f"{text} {field.unit}"
        return text

    def bounded(self, field: Described, number: float) -> int | float:
        kept = super().bounded(field, number)
        if number % 1:
            raise ValueError("Give a whole number.")
        return kept


class Percent(Amount):
    """A share: typed and shown in per cent, kept from 0 to 1."""

    word = "percent"
    scale = 100.0
    meaning = "a share from 0 to 1"

    def units_of(self, field: Described) -> Mapping[str, float]:
        return {"%": 1.0}

    def show(self, field: Described, value: Any, facts: SiteFacts) -> str:
        return units.show(float(value) * 100, 1)

    def entered(self, field: Described, value: Any, facts: SiteFacts) -> str:
        return units.show(float(value) * 100, 4).replace(",", "")

    def bounded(self, field: Described, number: float) -> int | float:
        return super().bounded(field, round(number, DIGITS + 2))


class Length(Amount):
    """A length of time, kept in whole minutes; its words bear their own unit."""

    word = "length"
    whole = True
    bears_unit = True
    meaning = "minutes"

    def show(self, field: Described, value: Any, facts: SiteFacts) -> str:
        return units.show_minutes(float(value))

    def written(self, field: Described, value: Any, facts: SiteFacts) -> str:
        size, word = next((s, w) for s, w in LENGTHS if float(value) % s == 0 or s == 1)
        count = float(value) / size
        if word == "day" and count != 1:
            plural = "s"
        else:
            plural = ""
        return f"{units.show(count, DIGITS)} {word}{plural}"

    def entered(self, field: Described, value: Any, facts: SiteFacts) -> str:
        return units.show_minutes(value).replace(",", "")
