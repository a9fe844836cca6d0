"""Circles are a person's answers; tick boxes and blank lines are for the pencil. All are drawn, not typed."""

from __future__ import annotations

from typing import Any

from planner.papers.book.bands import Shape
from planner.papers.book.look import INK
from planner.record.choices import AnswerState

MEANINGS = {
    AnswerState.OPEN: "Nobody has answered.",
    AnswerState.PROVEN: "Someone looked; who, when, and the proof.",
    AnswerState.TRUST: "Someone said yes without looking. Good enough for a trial gate, never for a live one.",
    AnswerState.EXCUSED: "Does not apply here, or is done without; the reason stands beside it.",
    AnswerState.FAILED: "Someone looked, and it is not so; what was seen stands beside it.",
}


def word_of(state: str) -> str:
    """An answer's word as it stands by itself: ``On trust``."""
    return AnswerState.words_of(state).capitalize()


def known(state: str) -> str:
    """The state whose circle is drawn: an empty one for what is none of the five."""
    if AnswerState.holds(state):
        return state
    return AnswerState.OPEN


def circle_shape(state: str, left: float, down: float, radius: float = 4.2) -> Shape:
    """The circle of an answer: empty, full with a tick, half full, with a dash, with a cross."""

    def shape(canvas: Any, x: float, top: float) -> None:
        name = f"circle-{state}-{radius:g}"
        canvas.put_stamp(
            name, lambda: _draw_circle(canvas, state, radius), x + left + radius, top - down
        )

    return shape


def _draw_circle(canvas: Any, state: str, radius: float) -> None:
    canvas.setStrokeGray(INK)
    canvas.setLineWidth(0.9)
    canvas.setFillGray(INK)
    canvas.circle(0, 0, radius, stroke=1, fill=1 if state == AnswerState.PROVEN else 0)
    inner = radius * 0.52
    path = canvas.beginPath()
    match state:
        case AnswerState.PROVEN:
            canvas.setStrokeGray(1)
            canvas.setLineWidth(1.2)
            path.moveTo(-inner, 0)
            path.lineTo(-inner * 0.2, -inner * 0.8)
            path.lineTo(inner, inner * 0.8)
            canvas.drawPath(path, stroke=1, fill=0)
        case AnswerState.TRUST:
            path.arc(-radius, -radius, radius, radius, startAng=-90, extent=180)
            path.close()
            canvas.drawPath(path, stroke=0, fill=1)
        case AnswerState.EXCUSED:
            canvas.line(-inner, 0, inner, 0)
        case AnswerState.FAILED:
            reach = inner * 0.92
            canvas.line(-reach, -reach, reach, reach)
            canvas.line(-reach, reach, reach, -reach)


def box_shape(left: float, down: float, side: float = 9.0, grey: float = INK) -> Shape:
    """An empty box to tick; ``down`` is its top."""
    return frame_shape(left, left + side, down, side, grey, 0.9, radius=0.0)


def frame_shape(
    left: float,
    right: float,
    down: float,
    high: float,
    grey: float = INK,
    thick: float = 0.8,
    radius: float = 2.6,
) -> Shape:
    """An empty frame."""

    def shape(canvas: Any, x: float, top: float) -> None:
        canvas.put_frame(x + left, top - down - high, right - left, high, grey, thick, radius)

    return shape
