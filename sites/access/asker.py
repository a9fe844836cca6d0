"""Whoever sends something now, and what they said of texts that look like secrets.

Every request makes one (:mod:`sites.web.middleware`); the door to a site tells it where. It travels beside the calls,
not through them: so every form asks in the same way, one that is made by another form too, and one of next year.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from contextvars import ContextVar
from dataclasses import dataclass, field

from sites.models import Site


@dataclass
class Asker:
    """``site`` is where texts would be kept, ``None`` for the house's own. ``said`` are digests of texts that whoever
    sends them said to be no secret, with the field each is of; they are kept once the request has done what it was for.
    """

    site: Site | None = None
    said: dict[str, str] = field(default_factory=dict)

    def forget(self) -> None:
        """What was said is only looked at: nothing is kept of it."""
        self.said.clear()


_NOW: ContextVar[Asker | None] = ContextVar("asker", default=None)


def now() -> Asker:
    """The asker of the request under way; one that knows of nothing where there is none."""
    return _NOW.get() or Asker()


@contextlib.contextmanager
def asking() -> Iterator[Asker]:
    """Makes an asker for as long as it lasts."""
    made = Asker()
    token = _NOW.set(made)
    try:
        yield made
    finally:
        _NOW.reset(token)
