"""Assumptions: the planning numbers the engine uses, with their origin.

The catalogue (``fixtures/catalogue/assumptions.toml``) gives each one's name, value, unit, allowed
range, origin and source. A house may set its own value, and a site may override that.
"""

from __future__ import annotations

import copy
import dataclasses
import datetime as dt
import functools
from dataclasses import dataclass
from typing import Annotated

from planner.catalogue import files as catalogue
from planner.record.choices import NumberOrigin, NumberScope
from planner.record.facts import Assumed

NO_SOURCE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Assumption:
    """One planning number. ``low`` and ``high`` bound what may be set; ``scope`` says who set it."""

    key: str
    name: str
    value: float
    unit: str
    low: float
    high: float
    origin: Annotated[str, NumberOrigin]
    source: str
    why: str
    scope: Annotated[str, NumberScope] = NumberScope.CATALOGUE
    note: str = ""
    set_on: dt.date | None = None

    @property
    def origin_words(self) -> str:
        return NumberOrigin.words_of(self.origin)

    @property
    def where_from(self) -> str:
        """Where it comes from, in a few words."""
        if self.note or self.source != NO_SOURCE:
            return self.origin_words
        return self.source

    @property
    def evidence(self) -> str:
        """What backs it: the note of whoever set it, else the catalogue's source; "" where there is neither."""
        if self.note:
            return self.note
        if self.source != NO_SOURCE:
            return self.source
        return ""

    @property
    def group(self) -> str:
        """What the number is about: the first word of its key."""
        return self.key.partition(".")[0]


@functools.cache
def listed() -> dict[str, Assumption]:
    """The catalogue's assumptions by key, in its order. Raises CatalogueError on a bad entry."""
    found = {}
    for key, entry in catalogue.load("assumptions").items():
        try:
            one = Assumption(key=key, **entry)
        except TypeError as error:
            raise catalogue.CatalogueError(f"assumptions: {key}: {error}") from error
        if not one.low <= one.value <= one.high or not NumberOrigin.holds(one.origin):
            raise catalogue.CatalogueError(f"assumptions: {key}: value or origin not allowed")
        found[key] = one
    return found


class Numbers:
    """The values in force at one site: ``numbers["host.vcpu-per-core"]`` is a float.

    ``numbers.read_by("placement", "storage")`` gives the same values and notes which of them the room asks
    for, and that it reads the results of another, so that a page can say what a result rests on (:meth:`behind`).
    """

    def __init__(self, assumed: tuple[Assumed, ...] = ()):
        self.all = dict(listed())
        self._used: dict[str, dict[str, None]] = {}
        self._aside: dict[str, dict[str, None]] = {}
        self._reads: dict[str, tuple[str, ...]] = {}
        self._room = ""
        self._reader: dict[str, None] = {}
        for scope in (NumberScope.HOUSE, NumberScope.SITE):
            for own in assumed:
                if (
                    own.scope == scope
                    and own.key in self.all
                    and _possible(self.all[own.key], own.value)
                ):
                    self.all[own.key] = _with(self.all[own.key], own)

    def __getitem__(self, key: str) -> float:
        self._reader[key] = None
        return self.all[key].value

    def read_by(self, room: str, *rooms: str) -> Numbers:
        """The same numbers, handed to a room of the engine that reads the results of other ``rooms``."""
        handed = copy.copy(self)
        handed._room, handed._reader = room, self._used.setdefault(room, {})
        self._reads[room] = rooms
        return handed

    def aside(self) -> Numbers:
        """The same numbers, for what a room tells for itself alone: whoever reads its results does not rest on it."""
        handed = copy.copy(self)
        handed._reader = self._aside.setdefault(self._room, {})
        return handed

    def behind(self, room: str) -> tuple[str, ...]:
        """The numbers that a room's result rests on, by key: those it asked for, and those that the rooms it
        reads asked for, and so on."""
        found = dict.fromkeys((*self._used.get(room, ()), *self._aside.get(room, ())))
        waiting, seen = list(self._reads.get(room, ())), {room}
        while waiting:
            other = waiting.pop(0)
            if other not in seen:
                seen.add(other)
                found.update(self._used.get(other, {}))
                waiting += self._reads.get(other, ())
        return tuple(found)


def _possible(base: Assumption, value: float) -> bool:
    """A value outside its bounds (from an old or a foreign record) is passed over; a NaN is, too."""
    return base.low <= value <= base.high


def _with(base: Assumption, own: Assumed) -> Assumption:
    return dataclasses.replace(
        base, value=own.value, origin=own.origin, scope=own.scope, note=own.note, set_on=own.set_on
    )
