"""The look of the book: paper, margins, sizes, greys. It prints well in black and white."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from planner.papers.fonts import SANS, SANS_BOLD, SANS_ITALIC, SERIF, SERIF_BOLD, SERIF_ITALIC
from planner.record.choices import PaperSize

MM = 72 / 25.4
PAPERS: Mapping[str, tuple[float, float]] = {
    PaperSize.A4: (210 * MM, 297 * MM),
    PaperSize.LETTER: (8.5 * 72, 11 * 72),
}
LEFT, RIGHT, TOP, BOTTOM = 22 * MM, 17 * MM, 24 * MM, 21 * MM  # left is wide enough to be punched

INK, SOFT, FAINT, BAND = 0.0, 0.36, 0.72, 0.93  # greys: 0 is black


class Style(NamedTuple):
    """A face, its size and the distance from line to line, in points, and its grey."""

    font: str
    size: float
    leading: float
    grey: float = INK


TEXT = Style(SANS, 9.3, 12.6)
TEXT_SOFT = TEXT._replace(grey=SOFT)
TEXT_BOLD = TEXT._replace(font=SANS_BOLD)
TEXT_ITALIC = TEXT._replace(font=SANS_ITALIC, grey=SOFT)
INTRO = Style(SANS, 10.6, 14.4, SOFT)
SMALL = Style(SANS, 7.9, 10.4)
SMALL_SOFT = SMALL._replace(grey=SOFT)
SMALL_BOLD = SMALL._replace(font=SANS_BOLD)
CELL = Style(SANS, 8.7, 11.4)
CELL_BOLD = CELL._replace(font=SANS_BOLD)
CELL_ITALIC = CELL._replace(font=SANS_ITALIC, grey=SOFT)
HEAD = Style(SANS_BOLD, 7.7, 9.8, SOFT)
CHAPTER = Style(SERIF_BOLD, 25, 30)
SECTION = Style(SERIF_BOLD, 13.5, 17)
ITEM = Style(SERIF_BOLD, 10.8, 14)
NOTE = Style(SERIF_BOLD, 9.4, 12.2)
BUILT = Style(SERIF_ITALIC, 9.3, 12.6)
LARGE = Style(SANS_BOLD, 15, 19)
CONTENTS = Style(SERIF, 11, 16)


@dataclass(frozen=True, slots=True)
class Sheet:
    """One size of paper, in points."""

    wide: float
    high: float

    @property
    def measure(self) -> float:
        """How wide the text is."""
        return self.wide - LEFT - RIGHT

    @property
    def room(self) -> float:
        """How high the text of one page is."""
        return self.high - TOP - BOTTOM


def sheet(paper: str) -> Sheet:
    """The paper of a name; A4 for a name nobody knows."""
    return Sheet(*PAPERS.get(paper, PAPERS[PaperSize.A4]))
