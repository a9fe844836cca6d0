"""Words: the three things a question can come back with, and texts made safe to show."""

from __future__ import annotations

import collections.abc
import socket

LATE = socket.timeout  # an error of its own before Python 3.10
OK, FAILED, UNTOLD = "ok", "failed", "could not tell"


class NoAnswer(Exception):
    """Nothing usable came back; the message says what did or did not, in words.

    ``refused`` says that the machine is there but does not do this. ``silent`` says that nothing came back
    at all, which a closed firewall, a missing machine and a lost packet have in common.
    """

    def __init__(self, words: str, silent: bool = False, refused: bool = False) -> None:
        super().__init__(words)
        self.silent = silent
        self.refused = refused


def clean(text: object, most: int = 300) -> str:
    """One line of letters, signs and single spaces: nothing that could move a terminal's cursor."""
    seen = "".join(letter if letter.isprintable() else " " for letter in str(text)[: 4 * most])
    found = " ".join(seen.split())
    if len(found) <= most:
        return found
    return found[: most - 1].rstrip() + "…"


def several(items: collections.abc.Iterable[object], most: int = 8) -> str:
    """Words with commas; past ``most`` how many more there are."""
    told = [clean(item, 120) for item in items]
    shown = ", ".join(told[:most]) or "nothing"
    if len(told) <= most:
        return shown
    return f"{shown} and {len(told) - most} more"


def why_of(error: object) -> str:
    """What the system said of an error, in one line."""
    return clean(getattr(error, "strerror", None) or error or type(error).__name__, 160)
