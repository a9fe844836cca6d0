"""What a result rests on: facts, how it is worked out, source, and the planning numbers it asked for."""

from __future__ import annotations

import itertools

from planner.catalogue.assumptions import Assumption
from planner.engine.provenance import rests_of
from planner.papers.book import parts
from planner.papers.book.bands import Band, Flow, Piece, Run, baseline, mixed_lines
from planner.papers.book.edition import Book
from planner.papers.book.look import FAINT, SMALL, SMALL_BOLD, SMALL_SOFT
from planner.papers.book.words import clean
from planner.record import units
from planner.record.choices import CITED, NumberOrigin, NumberScope

LEFT, LABEL = 9.0, 66.0
TOGETHER = 14  # lines that are kept on one page
SET_BY: dict[str, str] = {
    NumberScope.HOUSE: "set by the house",
    NumberScope.SITE: "set for this site",
}


def rests(flow: Flow, book: Book, *rooms: str) -> None:
    """Small, below a result; a part for people outside does without."""
    if not book.part.internal:
        return
    for room in rooms:
        found = rests_of(book.whole, room)
        flow.gap(7)
        start = len(flow.bands)
        if len(rooms) > 1:
            flow.text(found.entry.part, SMALL_BOLD, left=LEFT, keep=True)
        _line(flow, "Rests on", [(found.entry.facts, SMALL)])
        _line(flow, "Worked out", [(found.entry.how, SMALL)])
        number = book.cite(found.entry.source)
        _line(
            flow,
            "Source",
            [(f"{found.entry.source} [{number}]" if number else found.entry.source, SMALL)],
        )
        if found.numbers:
            _line(flow, "Assumptions", _numbers(book, found.numbers))
        for band in (
            flow.bands[start:-1]
            if len(flow.bands) - start <= TOGETHER
            else flow.bands[start : start + 3]
        ):
            band.keep = True
        parts.barred(flow, start, FAINT, 1.1)
    flow.gap(4)


def _line(flow: Flow, label: str, runs: list[Run]) -> None:
    """A label, and small words beside it."""
    broken = mixed_lines(runs, flow.measure - LEFT - LABEL) or [()]
    down = baseline(SMALL)
    for at, line in enumerate(broken):
        pieces = tuple(piece._replace(x=piece.x + LEFT + LABEL, down=down) for piece in line)
        if at == 0:
            pieces = (Piece(LEFT, down, clean(label), SMALL_SOFT), *pieces)
        held = len(broken) > 1 and at in (0, len(broken) - 2)  # no line stands alone on a page
        flow.add(Band(SMALL.leading, pieces, keep=held))


def _numbers(book: Book, numbers: tuple[Assumption, ...]) -> list[Run]:
    """Each with its value, those of one origin together."""
    found: list[Run] = []
    ordered = sorted(numbers, key=lambda one: list(NumberOrigin).index(NumberOrigin(one.origin)))
    for origin, same in itertools.groupby(ordered, key=lambda one: one.origin):
        group = list(same)
        words = NumberOrigin.words_of(origin).capitalize()
        found.append((f"{words}:", SMALL_SOFT))
        for one in group:
            if one is group[-1]:
                end = "."
            else:
                end = ";"
            value = f"{value_words(one)}{_after(book, one)}{end}"
            found += [(_within(one.name), SMALL), (value, SMALL_BOLD)]
    return found


def _within(name: str) -> str:
    """A name within a sentence: MTU stays MTU."""
    if name[1:2].isupper():
        return name
    return name[:1].lower() + name[1:]


def _after(book: Book, one: Assumption) -> str:
    if one.scope in SET_BY:
        return f" ({SET_BY[one.scope]})"
    if one.origin in CITED:
        number = book.cite(one.source)
    else:
        number = 0
    if number:
        return f" [{number}]"
    return ""


def value_words(one: Assumption) -> str:
    """``70 %`` for a share, ``6 vCPU a core``."""
    if one.unit == "share":
        return f"{units.show(one.value * 100, 2)} %"
    return f"{units.show(one.value, 4)} {one.unit}".strip()
