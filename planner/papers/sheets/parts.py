"""What a sheet is: columns, rows, and the line that says which plan it came from."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from planner.plan import Plan
from planner.record.choices import Choice

Value = str | int | float | dt.date | None


class ColumnKind(Choice):
    TEXT = "text"
    NUMBER = "number"
    INTEGER = "integer"
    DATE = "date"
    ADDRESS = "address"


@dataclass(frozen=True, slots=True)
class Column:
    """``width`` is in letters. A unit stands in the heading, one a column.

    A column that is not ``printed`` is for programs: it stands last, beyond the printed area.
    """

    heading: str
    kind: ColumnKind = ColumnKind.TEXT
    width: float = 14
    unit: str = ""
    printed: bool = True

    @property
    def title(self) -> str:
        if self.unit:
            return f"{self.heading}, {self.unit}"
        return self.heading


@dataclass(frozen=True)
class Sheet:
    """A table that leaves the tool. ``name`` is short (a tab, a file name), ``title`` in words."""

    name: str
    title: str
    columns: tuple[Column, ...] = ()
    rows: tuple[tuple[Value, ...], ...] = field(default=(), repr=False)


@dataclass(frozen=True, slots=True)
class Imprint:
    """Whose plan a file holds, and in which state: printed on every page of it.

    ``revision`` is its letter, "" for the plan as it stands; ``paper`` is A4 or Letter.
    """

    customer: str
    site: str
    fingerprint: str
    revision: str = ""
    paper: str = "A4"

    @property
    def where(self) -> str:
        return ", ".join(filter(None, (self.customer, self.site))) or "unnamed site"

    @property
    def state(self) -> str:
        if self.revision:
            revision = f"revision {self.revision}"
        else:
            revision = "not a revision"
        return f"{revision}, fingerprint {self.fingerprint}"


def imprint(plan: Plan, revision: str = "") -> Imprint:
    """The imprint of a plan."""
    facts = plan.facts
    return Imprint(facts.customer, facts.site.name, plan.fingerprint, revision, facts.site.paper)
