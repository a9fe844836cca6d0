"""What every record has, and how one is pointed at."""

from __future__ import annotations

import datetime as dt
import typing
from dataclasses import dataclass

Id = int
Day = dt.date

KIND_WORDS = {
    "site": "site", "contact": "contact", "network": "network", "device": "device", "host": "host",
    "datastore": "datastore", "directory": "directory", "server": "server", "service": "service",
    "appliance": "appliance", "protocol": "display protocol", "credential": "credential",
    "image": "image", "application": "application", "template": "desktop template",
    "seatgroup": "seat group", "flow": "flow", "owncheck": "own check",
    "ownstep": "own step", "stepplan": "plan of a step", "built": "built value",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Ref:
    """Points at one record of a site, or at one field of it (``field`` is "" for the record)."""

    kind: str
    id: Id
    field: str = ""

    @property
    def anchor(self) -> str:
        """The record's name in a page: ``host-12``."""
        return f"{self.kind}-{self.id}"

    def at(self, field: str) -> Ref:
        return Ref(self.kind, self.id, field)


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """What every record has. ``kind`` is the record's word in addresses, anchors and tables."""

    kind: typing.ClassVar[str] = ""
    id: Id = 0
    note: str = ""

    @property
    def ref(self) -> Ref:
        return Ref(self.kind, self.id)

    @property
    def label(self) -> str:
        """What people call this record."""
        return getattr(self, "name", "") or f"unnamed {KIND_WORDS.get(self.kind, self.kind)}"
