"""Figures of chapter 8 in words, as the screen says them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from planner.papers.book.bands import Flow, Run
from planner.papers.book.edition import Book
from planner.papers.book.look import SMALL, SMALL_SOFT, TEXT, TEXT_BOLD
from planner.papers.book.words import brief, listed
from planner.record import units
from planner.record.facts import Id

UNKNOWN = "not known yet"
NONE = "—"


def show(number: float | None, unit: str = "", digits: int = 1) -> str:
    """``112.9 GiB``; says so when nobody knows."""
    if number is None:
        return UNKNOWN
    return f"{units.show(number, digits)} {unit}".strip()


def cell(number: float | None, digits: int = 1) -> str:
    """A number in a table, a dash where there is none."""
    return units.show(number, digits) or NONE


def time(seconds: float | None) -> str:
    return units.show_seconds(seconds) or UNKNOWN


def wait(seconds: float | None) -> str:
    """A wait for a desktop; somebody who never gets one waits for ever."""
    if seconds is None:
        return NONE
    if math.isinf(seconds):
        return "no desktop"
    return units.show_seconds(seconds)


def count(number: int, one: str, many: str = "") -> str:
    """``1 desktop``, ``12 desktops``."""
    return f"{units.show(number, 0)} {one if number == 1 else many or f'{one}s'}"


def template_counts(book: Book, counts: Mapping[Id, int]) -> str:
    """``14 of front desk, 2 of surgery``."""
    some = {id: number for id, number in counts.items() if number}
    named = book.facts.named
    return listed(
        [
            f"{units.show(n, 0)} of {brief(named('template', id)) or 'a removed template'}"
            for id, n in some.items()
        ],
        30,
    )


def missing(flow: Flow, words: Iterable[str], lead: str = "Not known yet:") -> None:
    found = list(dict.fromkeys(words))
    if found:
        flow.text(listed(found, 20, "; "), TEXT, lead=lead, lead_style=TEXT_BOLD)


def missing_under(words: Iterable[str]) -> tuple[tuple[Run, ...], ...]:
    """What is not known yet, below a row."""
    found = list(dict.fromkeys(words))
    if found:
        return ((("Not known yet:", SMALL_SOFT), (listed(found, 8, "; "), SMALL)),)
    return ()
