"""The on-site day in words: lengths of time, and many steps by their numbers."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from planner.stages.outline import Outline


def length_words(minutes: float | None) -> str:
    """``45 min``, ``8 h``, ``8 h 15 min``; "" when unknown."""
    if minutes is None:
        return ""
    hours, rest = divmod(round(minutes), 60)
    if not hours:
        return f"{rest} min"
    if rest:
        return f"{hours:,} h {rest} min"
    return f"{hours:,} h"


def count_words(count: int) -> str:
    """``1 step``, ``12 steps``."""
    return f"{count:,} step{'' if count == 1 else 's'}"


def number_words(chosen: Collection[str], among: Sequence[Outline]) -> list[str]:
    """Steps by their numbers, runs of them shortened: ``3.1a to 3.12``, ``4.7``.

    ``chosen`` are keys, ``among`` all steps that are spoken of; a run goes on while the next one, in the
    order of the numbers, is chosen too.
    """
    runs: list[list[str]] = []
    open_run = False
    for one in sorted(among, key=_place):
        if one.key in chosen:
            if open_run:
                runs[-1].append(one.number)
            else:
                runs.append([one.number])
        open_run = one.key in chosen
    return [told for run in runs for told in ([f"{run[0]} to {run[-1]}"] if len(run) > 2 else run)]


def _place(one: Outline) -> tuple[int, int, int, str]:
    letters = one.number.lstrip("0123456789.")
    return one.entry.stage, one.entry.number, len(letters), letters
