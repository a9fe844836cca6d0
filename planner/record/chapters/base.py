"""Chapters: what a site record is made of, in the order of the rail and of the printed book.

One entry here is a field's only description: its label, unit, hint and example on screen, its
column in a ledger, its line in the book, its name in the history and in a comparison. The models
hold the column, the facts the value.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from planner.record import units
from planner.record.facts import Id, Record, SiteFacts

# What a field holds. The forms choose their control by it, ``show`` its words.
KINDS = (
    "text",
    "long",
    "whole",
    "number",
    "percent",
    "choice",
    "several",
    "yes-no",
    "date",
    "time",
    "zone",
    "address",
    "address6",
    "prefix",
    "prefix6",
    "addresses",
    "names",
    "ports",
    "mac",
    "record",
    "records",
    "length",
    "email",
    "any-record",
    "any-field",
    "planned",
    "sites",
    "step",
    "steps",
)
OF_BUILT = (
    "any-record",
    "any-field",
    "planned",
)  # what a built value belongs to: planner.comparing.as_built knows it
NUMBERS_OF_THINGS = ("vlan", "tcp_port", "udp_port")  # names, not amounts: 3389, never 3,389
NUMERIC = ("whole", "number", "percent", "length")


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a record.

    ``name`` is the field's name in the facts (a reference ends in ``_id``). ``unit`` is shown after
    the value; ``units`` are units a person may type, with their factor to ``unit``. ``low`` and
    ``high`` bound what can be true at all. ``ledger`` fields are columns of the section's table;
    the others are in the row's full form, under the heading ``group``. ``to`` is the record kind a
    reference points at.
    """

    name: str
    label: str
    kind: str = "text"
    unit: str = ""
    hint: str = ""
    example: str = ""
    choices: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, float] = field(default_factory=dict)
    low: float | None = None
    high: float | None = None
    ledger: bool = False
    group: str = ""
    to: str = ""
    short: str = ""

    @property
    def column(self) -> str:
        """The heading of its column: short, with the unit."""
        heading = self.short or self.label
        return f"{heading}, {self.unit}" if self.unit and self.kind != "length" else heading

    @property
    def numeric(self) -> bool:
        return self.kind in NUMERIC


@dataclass(frozen=True, slots=True)
class Section:
    """A numbered part of a chapter: a table of records of one kind, or fields of the one record.

    ``what``, ``why`` and ``who`` teach in an empty place: what belongs here, why it is needed, who
    usually knows it. ``counts`` are the fields whose filling makes the chapter full.
    """

    number: str
    title: str
    kind: str
    fields: tuple[Field, ...]
    single: bool = False
    slug: str = ""
    one: str = ""
    what: str = ""
    why: str = ""
    who: str = ""
    counts: tuple[str, ...] = ()
    derived: tuple[tuple[str, Field], ...] = ()

    @property
    def ledger(self) -> list[Field]:
        columns = []
        for one in self.fields:
            columns += [one] * one.ledger + [
                column for after, column in self.derived if after == one.name
            ]
        return columns

    @property
    def rest(self) -> list[Field]:
        return [one for one in self.fields if not one.ledger]


@dataclass(frozen=True, slots=True)
class Chapter:
    """A chapter; ``computed`` chapters hold what follows from the others."""

    number: int
    slug: str
    name: str
    intro: str
    sections: tuple[Section, ...] = ()


NOTE = Field("note", "Note", "long", hint="Anything the next person should know.", group="Note")


def show(one: Field, record: Record, facts: SiteFacts) -> str:
    """A field's value in words, without its unit; "" when nobody knows it."""
    if one.kind in OF_BUILT:
        from planner.comparing import (
            as_built as built,
        )  # it stands on the chapters, so it cannot be imported above

        return built.show(one, record, facts)
    return show_value(one, getattr(record, one.name), facts)


def show_value(one: Field, value: object, facts: SiteFacts) -> str:
    """As :func:`show`, for a value on its own."""
    if value is None or value in ("", ()):
        return ""
    match one.kind:
        case "choice":
            return one.choices.get(str(value), str(value))
        case "several":
            return ", ".join(one.choices.get(item, item) for item in _items(value))
        case "yes-no":
            return "yes" if value else "no"
        case "record":
            return facts.named(one.to, _id(value))
        case "records":
            return ", ".join(filter(None, (facts.named(one.to, id) for id in _items(value))))
        case "sites":
            return ", ".join(near.name for near in facts.neighbours if near.id in _items(value))
        case "any-record" | "any-field":
            from planner.comparing import as_built as built

            return built.show_value(one, str(value), facts)
        case "step" | "steps":
            from planner.stages import own  # the stages stand on the chapters

            return ", ".join(own.words_of(key, facts) for key in _items(value))
        case "addresses" | "names" | "ports":
            return ", ".join(_items(value))
        case "whole" if one.name in NUMBERS_OF_THINGS:
            return str(value)
        case "whole" | "number":
            return units.show(float(str(value)), 2)
        case "percent":
            return units.show(float(str(value)) * 100, 1)
        case "length":
            return units.show_minutes(float(str(value)))
        case "date":
            return show_date(value) if isinstance(value, dt.date) else str(value)
        case "time":
            return value.strftime("%H:%M") if isinstance(value, dt.time) else str(value)
    return str(value)


def with_unit(one: Field, text: str) -> str:
    """``64`` → ``64 GiB``; a length of time already bears its unit."""
    return f"{text} {one.unit}" if text and one.unit and one.kind != "length" else text


def show_date(day: dt.date) -> str:
    """``Thu 14 Jan 2027``: a weekday helps people notice a wrong date."""
    return f"{day:%a} {day.day} {day:%b %Y}"


def _items(value: object) -> tuple:
    return tuple(value) if isinstance(value, tuple | list) else (value,)


def _id(value: object) -> Id | None:
    return value if isinstance(value, int) else None
