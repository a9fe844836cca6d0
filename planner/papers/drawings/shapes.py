"""What a drawing is made of. Made once; :mod:`svg` puts it on screen, :mod:`paper` into the book.

Lengths are in units of one CSS pixel at full size; x runs right, y down. Colours are *roles*, which
screen and paper each translate: on paper there are only black, white, greys and hatches.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypedDict

from planner.papers import fonts

ROLES = (
    "ink",
    "soft",
    "rule",
    "edge",
    "line",
    "on-line",
    "pencil",
    "stopper",
    "concern",
    "proven",
    "paper",
    "band",
    "desk",
)
SMALL, TEXT = 11.0, 13.0  # sizes of letters


@dataclass(frozen=True, slots=True)
class Rect:
    """A box. ``hatch`` is the role of diagonal lines drawn over the fill."""

    x: float
    y: float
    width: float
    height: float
    fill: str = ""
    stroke: str = ""
    stroke_width: float = 1
    radius: float = 0
    hatch: str = ""
    dashed: bool = False
    opacity: float = 1  # of the fill


class RectLook(TypedDict, total=False):
    """How a box looks, wherever it stands."""

    fill: str
    stroke: str
    stroke_width: float
    radius: float
    hatch: str
    dashed: bool
    opacity: float


@dataclass(frozen=True, slots=True)
class Line:
    x1: float
    y1: float
    x2: float
    y2: float
    stroke: str = "ink"
    width: float = 1
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Path:
    """Straight lines from point to point, open; ``width`` 0 draws nothing."""

    points: tuple[tuple[float, float], ...]
    stroke: str = "ink"
    width: float = 1
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Polygon:
    points: tuple[tuple[float, float], ...]
    fill: str = "ink"
    stroke: str = ""
    width: float = 1


@dataclass(frozen=True, slots=True)
class Circle:
    x: float
    y: float
    radius: float
    fill: str = ""
    stroke: str = ""
    width: float = 1


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; ``y`` is its base line, ``anchor`` start, middle or end."""

    x: float
    y: float
    text: str
    size: float = TEXT
    role: str = "ink"
    anchor: str = "start"
    bold: bool = False

    @property
    def font(self) -> str:
        if self.bold:
            return fonts.SANS_BOLD
        return fonts.SANS


@dataclass(frozen=True, slots=True)
class Group:
    """Shapes moved together."""

    shapes: tuple[Shape, ...]
    x: float = 0
    y: float = 0


Shape = Rect | Line | Path | Polygon | Circle | Text | Group


@dataclass(frozen=True)
class Drawing:
    """A finished drawing. ``description`` says its conclusion in words, for whoever does not see it."""

    width: float
    height: float
    shapes: tuple[Shape, ...] = field(default=())
    title: str = ""
    description: str = ""


def clean(text: object) -> str:
    """Text that may stand in a drawing: one line, without control, layout or broken characters."""
    found = str(text)
    if found.isascii() and found.isprintable():  # most are: nothing to look for
        return found
    return "".join(
        " " if one in "\t\n\r" else one for one in found if one in "\t\n\r" or _allowed(one)
    )


def _allowed(character: str) -> bool:
    """XML 1.0's characters, less the C1 controls and those that turn the reading direction."""
    number = ord(character)
    if (
        number < 0x20
        or 0x7F <= number <= 0x9F
        or 0xD800 <= number <= 0xDFFF
        or number & 0xFFFE == 0xFFFE
    ):
        return False
    return not (
        0x202A <= number <= 0x202E or 0x2066 <= number <= 0x2069 or number in (0x200E, 0x200F)
    )


def fit(
    x: float,
    y: float,
    text: object,
    room: float,
    *,
    middle: bool = False,
    size: float = TEXT,
    role: str = "ink",
    anchor: str = "start",
    bold: bool = False,
) -> Text:
    """A :class:`Text` cut with an ellipsis to ``room``, so that labels never run into each other.

    ``middle`` cuts in the middle, for names that differ at their ends.
    """
    whole = Text(x, y, clean(text), size, role, anchor, bold)
    short = fonts.shorten(whole.text, room, size, whole.font, middle=middle)
    return Text(x, y, short, size, role, anchor, bold)


def width_of(text: str, size: float = TEXT, bold: bool = False) -> float:
    return fonts.width(text, size, fonts.SANS_BOLD if bold else fonts.SANS)


def key(
    x: float, y: float, entries: list[tuple[RectLook, str]], room: float
) -> tuple[list[Shape], float]:
    """A row of small boxes with their meaning, in as many lines as it takes; gives the height it took.

    ``entries`` are (the box's look, words).
    """
    shapes: list[Shape] = []
    at, line = x, 0
    for look, words in entries:
        wide = 14 + 6 + width_of(words, SMALL + 1) + 20
        if at > x and at + wide > x + room:
            at, line = x, line + 1
        shapes.append(Rect(at, y + line * 20, 14, 12, **look))
        shapes.append(
            fit(at + 20, y + line * 20 + 10.5, words, room - 20, size=SMALL + 1, role="soft")
        )
        at += wide
    return shapes, (line + 1) * 20
