"""What a filled-in sheet would do, row by row."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field
from typing import Any

from planner.papers.sheets.keys import RowKey
from planner.record.chapters import Field
from planner.record.facts import KIND_WORDS
from sites.actions.rows import RowOutcome
from sites.forms.secrets import Asked


@dataclass
class Change:
    """One filled-in cell. ``here`` and ``there`` are the value that stands and the sheet's, in words; ``value``
    is the sheet's, typed. ``clash`` says why a person must choose; "" when there is nothing to choose."""

    field: Field
    here: str
    there: str
    value: Any
    clash: str = ""


@dataclass
class Row:
    """What becomes of one row."""

    number: int
    kind: str
    whose: str
    does: RowOutcome = RowOutcome.UNCHANGED
    why: str = ""
    key: RowKey | None = None
    pk: int | None = None
    opened_at: int = 0
    changes: list[Change] = field(default_factory=list)
    asides: list[str] = field(default_factory=list)

    def refuse(self, why: str) -> Row:
        self.does, self.why, self.changes = RowOutcome.REFUSED, why, []
        return self

    def values(self, take: bool) -> dict[str, Any]:
        """What is written; of values in conflict only when the sheet's are taken."""
        return {one.field.name: one.value for one in self.changes if take or not one.clash}

    @property
    def kind_words(self) -> str:
        return KIND_WORDS[self.kind]

    @property
    def name(self) -> str:
        """Its number, for names of controls."""
        return str(self.number)

    @property
    def anchor(self) -> str:
        return f"{self.kind}-{self.pk}"


@dataclass
class Seen:
    """What a sheet would do. ``trouble`` refuses the whole of it; ``moved`` counts values that changed here since
    the sheet was made and that it leaves alone."""

    rows: list[Row] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    trouble: str = ""
    fingerprint: str = ""
    moved: int = 0
    asked: Asked = field(default_factory=Asked)

    def count(self, does: RowOutcome) -> int:
        return sum(row.does == does for row in self.rows)

    @property
    def writes(self) -> bool:
        return any(
            row.does in (RowOutcome.ADDED, RowOutcome.CHANGED, RowOutcome.CONFLICT)
            for row in self.rows
        )

    @property
    def digest(self) -> str:
        """Stands for exactly this: what is confirmed is what was shown."""
        told = [
            (
                row.number,
                row.does,
                row.opened_at,
                [(c.field.name, c.here, c.there, c.clash) for c in row.changes],
            )
            for row in self.rows
        ]
        return hashlib.sha256(json.dumps(told).encode("utf-8", "replace")).hexdigest()


class Refused(Exception):
    """The sheet as a whole cannot be read back here; the message says why."""
