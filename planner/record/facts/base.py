"""What every record has, and how one is pointed at."""

from __future__ import annotations

import datetime as dt
import re
import typing
from dataclasses import dataclass

Id = int
Day = dt.date


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


_ANCHOR = re.compile(r"([a-z][a-z-]*)-([0-9]{1,18})")  # a key has room in a database's column


def ref_of(anchor: str) -> Ref | None:
    """``host-12`` → its :class:`Ref`; ``None`` for anything else. Whether such a record is there it does not say."""
    found = _ANCHOR.fullmatch(anchor)
    if found:
        return Ref(found[1], int(found[2]))
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """What every record has.

    ``kind`` is the record's word in addresses, anchors and tables, ``called`` what people call it where
    that is another. One that is not ``planned`` does not move the fingerprint; one ``of_house`` belongs to
    every site.
    """

    kind: typing.ClassVar[str] = ""
    called: typing.ClassVar[str] = ""
    planned: typing.ClassVar[bool] = True
    of_house: typing.ClassVar[bool] = False
    id: Id = 0
    note: str = ""

    @property
    def ref(self) -> Ref:
        return Ref(self.kind, self.id)

    @property
    def label(self) -> str:
        """What people call this record."""
        return getattr(self, "name", "") or f"unnamed {self.called or self.kind}"
