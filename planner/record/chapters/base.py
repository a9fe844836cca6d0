"""Chapters: what a site record is made of, in the order of the rail and of the printed book.

One entry here is a field's only description: its label, unit, hint and example on screen, its
column in a ledger, its line in the book, its name in the history and in a comparison. The models
hold the column, the facts the value.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from planner.record import kinds
from planner.record.facts import Record, SiteFacts
from planner.record.kinds import Kind, OfBuilt, show_date


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
    kind: Kind = kinds.TEXT
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
        if self.shows_unit:
            return f"{heading}, {self.unit}"
        return heading

    @property
    def shows_unit(self) -> bool:
        """Whether its unit is shown beside its words."""
        return bool(self.unit) and not self.kind.bears_unit

    @property
    def numeric(self) -> bool:
        return self.kind.numeric


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


NOTE = Field("note", "Note", kinds.LONG, hint="Anything the next person should know.", group="Note")


def show(one: Field, record: Record, facts: SiteFacts) -> str:
    """A field's value in words, without its unit; "" when nobody knows it."""
    if isinstance(one.kind, OfBuilt):
        return one.kind.show_of(record, facts)
    return show_value(one, getattr(record, one.name), facts)


def show_value(one: Field, value: object, facts: SiteFacts) -> str:
    """As :func:`show`, for a value on its own."""
    if value is None or value in ("", ()):
        return ""
    return one.kind.show(one, value, facts)


def with_unit(one: Field, text: str) -> str:
    """``64`` → ``64 GiB``; a length of time already bears its unit."""
    if text and one.shows_unit:
        return f"{text} {one.unit}"
    return text


__all__ = ["NOTE", "Chapter", "Field", "Section", "show", "show_date", "show_value", "with_unit"]
