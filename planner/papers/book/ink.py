"""Ink: what the bands draw with, written straight into a page's stream.

reportlab's own calls format every number with care; in a book of 300 pages that care is half the time.
Two decimals of a point are finer than any printer.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas

from planner.papers.book.bands import Piece

ROUND = 0.5523  # how far the handles of a quarter circle's curve reach, of its radius


class InkCanvas(Canvas):
    """A canvas with a few quick strokes. Greys are 0 black to 1 white; y runs up."""

    def __init__(self, *args: Any, **kwds: Any):
        super().__init__(*args, **kwds)
        self.stamps: dict[str, Callable[[], None]] = {}

    def put_pieces(self, pieces: tuple[Piece, ...], x: float, top: float) -> None:
        """Texts, each at its place."""
        code = ["BT"]
        face: Any = None
        set_font: tuple[object, ...] = ()
        grey = -1.0
        for right, down, text, style in pieces:
            if face is None or face.fontName != style.font:
                face = pdfmetrics.getFont(style.font)
            if style.grey != grey:
                grey = style.grey
                code.append(f"{grey:g} g")
            code.append(f"1 0 0 1 {x + right:.2f} {top - down:.2f} Tm")
            for subset, signs in face.splitString(text, self._doc):
                if set_font != (style.font, subset, style.size):
                    set_font = (style.font, subset, style.size)
                    code.append(
                        f"{face.getSubsetInternalName(subset, self._doc)} {style.size:g} Tf"
                    )
                code.append(f"({self._escape(signs)}) Tj")
        code.append("ET")
        self._code.append(" ".join(code))

    def put_line(
        self,
        x1: float,
        y1: float,
        x2: float,
        y2: float,
        grey: float,
        thick: float,
        dash: tuple[float, ...] = (),
    ) -> None:
        self._code.append(
            f"{self._pen(grey, thick, dash)} {x1:.2f} {y1:.2f} m {x2:.2f} {y2:.2f} l S"
        )

    def put_frame(
        self,
        x: float,
        y: float,
        wide: float,
        high: float,
        grey: float,
        thick: float,
        radius: float = 0.0,
    ) -> None:
        """An empty box, its corners rounded by ``radius``; ``y`` is its lower edge."""
        pen = self._pen(grey, thick)
        if not radius:
            self._code.append(f"{pen} {x:.2f} {y:.2f} {wide:.2f} {high:.2f} re S")
            return
        right, top, bend = x + wide, y + high, radius * (1 - ROUND)
        self._code.append(
            f"{pen} {x + radius:.2f} {y:.2f} m {right - radius:.2f} {y:.2f} l "
            f"{right - bend:.2f} {y:.2f} {right:.2f} {y + bend:.2f} {right:.2f} {y + radius:.2f} c "
            f"{right:.2f} {top - radius:.2f} l "
            f"{right:.2f} {top - bend:.2f} {right - bend:.2f} {top:.2f} {right - radius:.2f} {top:.2f} c "
            f"{x + radius:.2f} {top:.2f} l "
            f"{x + bend:.2f} {top:.2f} {x:.2f} {top - bend:.2f} {x:.2f} {top - radius:.2f} c "
            f"{x:.2f} {y + radius:.2f} l "
            f"{x:.2f} {y + bend:.2f} {x + bend:.2f} {y:.2f} {x + radius:.2f} {y:.2f} c s"
        )

    def put_squares(
        self, runs: list[tuple[int, int, int]], x: float, y: float, side: float
    ) -> None:
        """Black squares of a raster whose upper left corner is (x, y): (row, first column, how many).

        They overlap by a hair, so that no white line shows between rows."""
        boxes = (
            f"{x + first * side:.3f} {y - row * side:.3f} {count * side:.3f} {-side * 1.03:.3f} re"
            for row, first, count in runs
        )
        self._code.append(f"0 g {' '.join(boxes)} f")

    def put_stamp(self, name: str, draw: Callable[[], None], x: float, y: float) -> None:
        """A small picture that stands in many places: ``draw`` draws it once, around (0, 0)."""
        self.stamps.setdefault(name, draw)
        self.put_form(name, x, y)

    def put_form(self, form: str, x: float, y: float) -> None:
        self._code.append(f"q 1 0 0 1 {x:.2f} {y:.2f} cm")
        self.doForm(form)
        self._code.append("Q")

    def _pen(self, grey: float, thick: float, dash: tuple[float, ...] = ()) -> str:
        return f"{grey:g} G {thick:g} w [{' '.join(f'{one:g}' for one in dash)}] 0 d"

    def save(self) -> None:
        for name, draw in self.stamps.items():
            self.beginForm(name, -60, -60, 60, 60)
            draw()
            self.endForm()
        super().save()
