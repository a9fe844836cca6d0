"""Whole numbers that come in as text. Python's own reading raises where a text is no number to it ("²", 5,000 digits),
and its own tests of letters say yes to some of these: so nothing else in ``sites`` reads a number that was sent.
"""

from __future__ import annotations

import re

_WHOLE = re.compile(r"[0-9]{1,18}")  # has room in a database's column


def whole(text: str) -> int:
    """The number a page sent back, 0 for anything else."""
    return whole_or_none(text) or 0


def whole_or_none(text: str) -> int | None:
    """The number, where 0 is one too; ``None`` for anything else."""
    if _WHOLE.fullmatch(text):
        return int(text)
    return None
