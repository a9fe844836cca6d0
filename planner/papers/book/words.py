"""Words on paper: every text a person typed comes through :func:`clean`, and is broken into lines here.

The book draws plain strings and never reads markup, so “<b>” or “&” is what it looks like.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Iterator, Sequence

from reportlab.pdfbase import pdfmetrics

from planner.papers import fonts
from planner.papers.book.look import Style

ELLIPSIS = "…"
LONGEST = 20_000  # characters of one text that the book prints; a page holds about 5,000
_BREAKS = "-/.,;:_@\\)&?+"
_PARAGRAPH = re.compile(r"\r\n|[\n\r\v\f\x85\u2028\u2029]")


def clean(text: object, most: int = LONGEST) -> str:
    """One line of drawable text: controls gone, white space single, missing glyphs replaced, at most ``most`` long."""
    raw = str(text if text is not None else "")
    if len(raw) > most:
        cut = raw[: most + 1]
    else:
        cut = raw
    drawable = " ".join(fonts.fallback(cut).split())
    if len(raw) > most:
        return drawable[:most].rstrip() + ELLIPSIS
    return drawable


def brief(text: object, most: int = 60) -> str:
    """A name among other words: cut where it is longer than anybody's name."""
    return clean(text, most)


def listed(names: Sequence[object], most: int = 8, between: str = ", ") -> str:
    """The first names of a list, and how many more there are."""
    shown = between.join(brief(name, 120) for name in names[:most])
    if len(names) > most:
        return f"{shown}{between}and {len(names) - most:,} more"
    return shown


def paragraphs(text: object, most: int = LONGEST) -> list[str]:
    """The paragraphs of a text as :func:`clean` ones; empty ones are left out."""
    raw = str(text if text is not None else "")
    if len(raw) > most:
        raw = raw[:most].rstrip() + ELLIPSIS
    return [one for one in map(clean, _PARAGRAPH.split(raw)) if one]


@functools.cache
def _advances(font: str) -> tuple[dict[int, float], float]:
    """A face's advance widths by code point, in thousandths of its size, and the one of a missing glyph."""
    fonts.register()
    face = pdfmetrics.getFont(font).face
    return face.charWidths, face.defaultWidth


@functools.lru_cache(maxsize=65_536)
def _units(word: str, font: str) -> float:
    known, missing = _advances(font)
    return sum(known.get(ord(one), missing) for one in word)


def width(text: str, style: Style) -> float:
    """How wide a cleaned text is, in points."""
    return sum(_units(word, style.font) for word in text.split(" ")) * style.size / 1000 + (
        text.count(" ") * _units(" ", style.font) * style.size / 1000
    )


def lines(
    text: str, room: float, style: Style, first: float | None = None, most: int = 0
) -> list[str]:
    """Breaks a cleaned text into lines at most ``room`` points wide (the first one ``first``).

    A word too long for a line is broken inside, after a sign like - or / where one is near. With
    ``most`` the text ends in an ellipsis after that many lines.
    """
    found: list[str] = []
    units = 1000 / style.size
    space = _units(" ", style.font)
    left = (room if first is None else first) * units
    line: list[str] = []
    used = 0.0
    for word in _pieces(text, room * units, style.font):
        if len(word) < 80:
            wide = _units(word, style.font)
        else:
            wide = _measured(word, style.font)
        if line:
            ahead = used + space + wide
        else:
            ahead = wide
        if line and ahead > left:
            found.append(" ".join(line))
            if most and len(found) == most:
                found[-1] = shortened(f"{found[-1]} {word}", room, style, always=True)
                return found
            line, left, ahead = [], room * units, wide
        elif not line and not found and first is not None and wide > left:
            found.append("")  # the first word does not fit beside what leads the line
            left = room * units
        line.append(word)
        used = ahead
    if line:
        found.append(" ".join(line))
    return found


def _pieces(text: str, room: float, font: str) -> Iterator[str]:
    """The words of a text, those wider than a line in pieces that fit."""
    for word in text.split(" "):
        if not word:
            continue
        if len(word) < 80 and _units(word, font) <= room:
            yield word
        else:
            yield from _broken(word, max(room, 1.0), font)


def _broken(word: str, room: float, font: str) -> Iterator[str]:
    known, missing = _advances(font)
    start, used, good = 0, 0.0, 0
    for at, one in enumerate(word):
        wide = known.get(ord(one), missing)
        while (
            used + wide > room and at > start
        ):  # what is left behind an early cut may still be too wide
            if good > start + (at - start) // 3:
                cut = good
            else:
                cut = at
            yield word[start:cut]
            used = sum(known.get(ord(other), missing) for other in word[cut:at])
            start = cut
        used += wide
        if one in _BREAKS:
            good = at + 1
    yield word[start:]


def _measured(word: str, font: str) -> float:
    known, missing = _advances(font)
    return sum(known.get(ord(one), missing) for one in word)


def shortened(text: str, room: float, style: Style, always: bool = False) -> str:
    """A cleaned text in one line: cut with an ellipsis where it is wider than ``room``."""
    if not always and len(text) < 400 and width(text, style) <= room:
        return text
    known, missing = _advances(style.font)
    units = room * 1000 / style.size - known.get(ord(ELLIPSIS), missing)
    used = 0.0
    for at, one in enumerate(text):
        used += known.get(ord(one), missing)
        if used > units:
            return text[:at].rstrip() + ELLIPSIS
    if always:
        return text + ELLIPSIS
    return text
