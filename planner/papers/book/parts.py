"""Parts every chapter is made of: headings, label-and-value lines, cautions, teaching words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.papers.book.bands import (
    Anchor,
    Band,
    Flow,
    Piece,
    Shape,
    bar_shape,
    baseline,
    line_shape,
)
from planner.papers.book.look import (
    BUILT,
    CHAPTER,
    FAINT,
    HEAD,
    INK,
    INTRO,
    ITEM,
    SECTION,
    SMALL,
    SMALL_SOFT,
    SOFT,
    TEXT,
    TEXT_BOLD,
    TEXT_ITALIC,
    TEXT_SOFT,
    Style,
)
from planner.papers.book.words import clean, lines, shortened, width

NOT_KNOWN = "not known yet"
NOBODY = "Nobody has written this down yet."
LABEL, PLANNED = 0.29, 0.44  # shares of the measure; what was built has the rest
HELD = 0.42  # of a page, at most, is kept together
MARK_RISE, MARK_SIZE = 2.6, 0.72

Mark = tuple[str, int]  # a printers' mark and the number of its note


def chapter(flow: Flow, number: int | None, name: str, intro: str = "", key: str = "") -> None:
    """A chapter's head: its number light, its name dark; it names the page heads that follow."""
    title = clean(f"{number} {name}" if number is not None else name)
    if number is None:
        figure = ""
    else:
        figure = str(number)
    if figure:
        x = width(figure, CHAPTER) + 11
    else:
        x = 0.0
    light = CHAPTER._replace(grey=0.55)
    pieces = (Piece(0, baseline(CHAPTER), figure, light),) if figure else ()
    name = shortened(clean(name), flow.measure - x, CHAPTER)
    anchor = Anchor(key or f"chapter-{number}", title, 0, title)
    flow.add(
        Band(
            CHAPTER.leading,
            (*pieces, Piece(x, baseline(CHAPTER), name, CHAPTER)),
            keep=True,
            anchor=anchor,
        )
    )
    if intro:
        flow.gap(3)
        flow.text(intro, INTRO, room=flow.measure * 0.86, keep=True)
    flow.gap(13)


def section(
    flow: Flow, number: str, title: str, key: str = "", aside: str = "", running: str = ""
) -> None:
    """A section's head over a light rule; ``aside`` stands small at its right, ``running`` in page heads after it."""
    flow.gap(17)
    title = clean(title)
    if number:
        x = width(number, SECTION) + 7
    else:
        x = 0.0
    down = baseline(SECTION)
    shown = shortened(title, flow.measure - x, SECTION)
    pieces = [Piece(x, down, shown, SECTION)]
    if number:
        pieces.insert(0, Piece(0, down, number, SECTION._replace(grey=0.5)))
    if aside:
        aside = shortened(clean(aside), flow.measure - x - width(shown, SECTION) - 12, SMALL_SOFT)
        pieces.append(Piece(flow.measure - width(aside, SMALL_SOFT), down, aside, SMALL_SOFT))
    if number:
        name = f"{number} {title}"
    else:
        name = title
    if number or key:
        anchor = Anchor(key or f"section-{number}", name, 1, running)
    else:
        anchor = None
    shapes = (line_shape(0, flow.measure, SECTION.leading + 3, FAINT, 0.7),)
    flow.add(Band(SECTION.leading + 3, tuple(pieces), shapes, keep=True, anchor=anchor))
    flow.gap(6)


def item(flow: Flow, title: str, gap: float = 10) -> None:
    """A small head within a section."""
    flow.gap(gap)
    flow.text(title, ITEM, keep=True)
    flow.gap(2)


def teaching(flow: Flow, what: str = "", why: str = "", who: str = "") -> None:
    """What belongs in an empty place, why it is needed, who usually knows; it stays with what follows."""
    left = 12.0
    before = len(flow.bands)
    flow.text(NOBODY, TEXT_BOLD, left=left, keep=True)
    if what:
        flow.text(what, TEXT, left=left)
    if why:
        flow.text(why, TEXT_SOFT, left=left)
    if who:
        flow.text(who, TEXT_SOFT, left=left, lead="Who knows:", lead_style=TEXT_SOFT)
    barred(flow, before, FAINT, 1.6)
    for band in flow.bands[before:]:
        band.keep = True
    flow.gap(7)


def barred(
    flow: Flow, start: int, grey: float = INK, thick: float = 0.8, left: float = 1.0
) -> None:
    """Draws an upright line beside all bands from ``start`` on."""
    for band in flow.bands[start:]:
        band.shapes = (*band.shapes, bar_shape(left, band.height, grey, thick))
        if band.gap:
            band.gap = False  # white inside stays, the line goes through


def boxed(flow: Flow, bands: list[Band], edge: float = 3.2, left: float = 0.0) -> None:
    """A frame around bands from ``left`` on, its left edge ``edge`` thick."""
    right = flow.measure
    flow.gap(4)
    for at, band in enumerate(bands):
        sides = (
            bar_shape(left + edge / 2, band.height, INK, edge),
            bar_shape(right - 0.3, band.height, INK, 0.6),
        )
        ends = []
        if at == 0:
            ends.append(line_shape(left, right, 0, INK, 0.6))
            band.keep = True
        if at == len(bands) - 1:
            ends.append(line_shape(left, right, band.height, INK, 0.6))
            if at:
                bands[at - 1].keep = True
        band.shapes = (*band.shapes, *sides, *ends)
    hold(bands, flow.sheet.room)
    flow.add(*bands)
    flow.gap(7)


def hold(bands: list[Band], room: float) -> None:
    """Keeps what is short on one page; what is long breaks where it must."""
    if sum(band.height for band in bands) < room * HELD:
        for band in bands[:-1]:
            band.keep = True


def mark_pieces(marks: Sequence[Mark], x: float, down: float, style: Style) -> tuple[Piece, ...]:
    """Findings' marks with the small raised numbers of their notes."""
    found = []
    bold = style._replace(font=TEXT_BOLD.font, grey=INK)
    small = bold._replace(size=style.size * MARK_SIZE)
    for mark, number in marks:
        found.append(Piece(x, down, mark, bold))
        x += width(mark, bold) + 0.4
        figure = str(number)
        found.append(Piece(x, down - MARK_RISE, figure, small))
        x += width(figure, small) + 2.2
    return tuple(found)


def marks_width(marks: Sequence[Mark], style: Style) -> float:
    """How much room :func:`mark_pieces` takes, with the white before it."""
    if not marks:
        return 0.0
    bold = style._replace(font=TEXT_BOLD.font)
    small = bold._replace(size=style.size * MARK_SIZE)
    return sum(width(mark, bold) + width(str(number), small) + 2.6 for mark, number in marks) + 2.5


@dataclass(frozen=True, slots=True)
class Pair:
    """One line: what it is, what is planned ("" when nobody knows), what was really built and why."""

    label: str
    value: str
    marks: tuple[Mark, ...] = ()
    built: tuple[tuple[str, str], ...] = ()
    hint: str = ""


def pairs(flow: Flow, rows: Sequence[Pair], with_built: bool = True, most: int = 0) -> None:
    """Label-and-value lines, with a column in which what was built is printed or written by hand."""
    if not rows:
        return
    wide_label = flow.measure * LABEL
    wide_value = flow.measure * (PLANNED if with_built else 1 - LABEL)
    if with_built:
        head = _pairs_head(flow, wide_label, wide_value)
    else:
        head = []
    flow.add(*head)
    for at, row in enumerate(rows):
        bands = _pair(row, wide_label, wide_value - 12, flow.measure, with_built, most)
        bands[0].again = tuple(head)
        for later in bands[1:]:
            later.again = tuple(head)
        if at in (0, len(rows) - 2) and len(bands) < 4:
            bands[-1].keep = len(rows) > 1  # no row stands alone at a page's end or head
        flow.add(*bands)


def _pairs_head(flow: Flow, wide_label: float, wide_value: float) -> list[Band]:
    down = baseline(HEAD)
    pieces = (
        Piece(wide_label, down, "Planned", HEAD),
        Piece(wide_label + wide_value, down, "Built", HEAD),
    )
    shapes = (line_shape(0, flow.measure, HEAD.leading + 3, INK, 0.7),)
    return [Band(HEAD.leading + 3, pieces, shapes, keep=True)]


def _pair(
    row: Pair, left: float, room: float, measure: float, with_built: bool, most: int
) -> list[Band]:
    labels = lines(clean(row.label), left - 10, TEXT_SOFT)
    values = _value_lines(row, room, most)
    start = left + room + 12
    built = [part for one in row.built for part in _built_lines(one, measure - start)]
    count = max(len(labels), len(values), len(built), 1)
    bands = []
    for at in range(count):
        first, last = at == 0, at == count - 1
        down = baseline(TEXT) + (2.5 if first else 0)
        pieces = []
        if at < len(labels):
            pieces.append(Piece(0, down, labels[at], TEXT_SOFT))
        if at < len(values):
            pieces += [one._replace(x=one.x + left, down=down + one.down) for one in values[at]]
        if at < len(built):
            words, style = built[at]
            pieces.append(Piece(start, down, words, style))
        height = TEXT.leading + (2.5 if first else 0) + (2.5 if last else 0)
        shapes: list[Shape] = []
        if last:
            shapes.append(line_shape(0, start - 8 if with_built else measure, height, FAINT, 0.4))
            if with_built:
                shapes.append(line_shape(start, measure, height, SOFT, 0.5, (0.6, 1.8)))
        bands.append(
            Band(height, tuple(pieces), tuple(shapes), keep=not last and (first or at == count - 2))
        )
    return bands


def _value_lines(row: Pair, room: float, most: int) -> list[list[Piece]]:
    """The lines of a value, with its marks at the end; down is from the line's own baseline."""
    if row.value:
        style = TEXT
    else:
        style = TEXT_ITALIC
    found: list[list[Piece]] = []
    for part in (row.value or NOT_KNOWN).splitlines():
        found += [[Piece(0, 0, line, style)] for line in lines(clean(part), room, style, most=most)]
    if not found:
        found = [[Piece(0, 0, NOT_KNOWN, TEXT_ITALIC)]]
    if row.marks:
        end = width(found[-1][0].text, found[-1][0].style) + 2.5
        if end + marks_width(row.marks, TEXT) > room:
            found.append([])
            end = 0.0
        found[-1] += mark_pieces(_that_fit(row.marks, room - end), end, 0, TEXT)
    return found


def _that_fit(marks: Sequence[Mark], room: float) -> Sequence[Mark]:
    while len(marks) > 1 and marks_width(marks, TEXT) > room:
        marks = marks[:-1]
    return marks


def _built_lines(built: tuple[str, str], room: float) -> list[tuple[str, Style]]:
    value, reason = built
    found = [(line, BUILT) for line in lines(clean(value) or "no value given", room, BUILT)]
    if clean(reason):
        found += [(line, SMALL_SOFT) for line in lines(clean(reason), room, SMALL)]
    return found


def blank_line(measure: float, high: float = 22.0) -> Band:
    """A dotted line to write on."""
    return Band(high, shapes=(line_shape(0, measure, high - 1, SOFT, 0.5, (0.6, 1.8)),))
