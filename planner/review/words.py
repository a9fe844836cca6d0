"""Small turns of phrase for findings."""

from __future__ import annotations

from collections.abc import Sequence


def and_list(words: Sequence[str], most: int = 3) -> str:
    """``a``, ``a and b``, ``a, b and c``, ``a, b, c and 4 more``."""
    shown = list(words[:most])
    if len(words) > most:
        shown.append(f"{len(words) - most} more")
    if len(shown) < 2:
        return "".join(shown)
    return f"{', '.join(shown[:-1])} and {shown[-1]}"
