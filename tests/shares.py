"""How much of a long test the suite plays. ``python -m tests.long.whole`` plays all of it."""

import os
from collections.abc import Sequence
from typing import TypeVar

One = TypeVar("One")
WHOLE = "DESKWRIGHT_WHOLE"


def share(part: int, of: int) -> int:
    """How many times something is done: ``part`` of them in the suite, all ``of`` them in the long run."""
    return of if os.environ.get(WHOLE) else part


def every(nth: int, things: Sequence[One]) -> Sequence[One]:
    """Each so-many-th of them in the suite, all in the long run."""
    return things[:: share(nth, of=1)]
