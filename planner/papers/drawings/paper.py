"""A drawing for the book: reportlab shapes in black, white, greys and hatches."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from reportlab.graphics import shapes as rl
from reportlab.lib.colors import Color

from planner.papers import fonts
from planner.papers.drawings.shapes import (
    Circle,
    Drawing,
    Group,
    Line,
    Path,
    Polygon,
    Rect,
    Shape,
    Text,
    clean,
)

# How dark each role is: 0 black, 1 white. Roles that mean something also have a hatch, a mark or a word.
GREYS = {
    "ink": 0.0,
    "soft": 0.34,
    "rule": 0.72,
    "edge": 0.5,
    "line": 0.3,
    "on-line": 1.0,
    "pencil": 0.3,
    "stopper": 0.0,
    "concern": 0.2,
    "proven": 0.25,
    "paper": 1.0,
    "band": 0.94,
    "desk": 0.88,
}
HATCH = 4.5  # distance of a hatch's lines
HATCH_MOST = 400  # lines of one hatch at most; a larger box gets them further apart


def to_reportlab(
    drawing: Drawing, width: float, faces: Mapping[str, str] | None = None
) -> rl.Drawing:
    """The drawing at ``width`` points, its height in proportion.

    ``faces`` gives registered font names for "sans" and "sans-bold", where they are not the project's own.
    """
    fonts.register()
    faces = {"sans": fonts.SANS, "sans-bold": fonts.SANS_BOLD, **(faces or {})}
    if drawing.width:
        scale = width / drawing.width
    else:
        scale = 1
    inner = rl.Group(
        *_rendered(drawing.shapes, 0, drawing.height, faces), transform=(scale, 0, 0, scale, 0, 0)
    )
    return rl.Drawing(width, drawing.height * scale, inner)


def _grey(role: str, opacity: float = 1) -> Color:
    tone = 1 - (1 - GREYS[role]) * opacity  # as if on white paper: no transparency in print
    return Color(tone, tone, tone)


def _rendered(
    shapes: Iterable[Shape], left: float, top: float, faces: Mapping[str, str]
) -> Iterator[rl.Shape]:
    """``top`` is where y = 0 lies, counted from below."""
    for shape in shapes:
        match shape:
            case Rect():
                yield from _rect(shape, left, top)
            case Line(x1, y1, x2, y2, stroke, width, dashed):
                yield rl.Line(
                    left + x1, top - y1, left + x2, top - y2, **_stroke(stroke, width, dashed)
                )
            case Path(points, stroke, width, dashed):
                yield rl.PolyLine(_points(points, left, top), **_stroke(stroke, width, dashed))
            case Polygon(points, fill, stroke, width):
                yield rl.Polygon(_points(points, left, top), **_look(fill, stroke, width))
            case Circle(x, y, radius, fill, stroke, width):
                yield rl.Circle(left + x, top - y, radius, **_look(fill, stroke, width))
            case Text():
                yield _text(shape, left, top, faces)
            case Group(inner, x, y):
                yield from _rendered(inner, left + x, top - y, faces)


def _stroke(role: str, width: float, dashed: bool) -> dict[str, object]:
    return {
        "strokeColor": _grey(role),
        "strokeWidth": width,
        "strokeDashArray": [4, 3] if dashed else None,
    }


def _look(fill: str, stroke: str, width: float, opacity: float = 1) -> dict[str, object]:
    return {
        "fillColor": _grey(fill, opacity) if fill else None,
        "strokeColor": _grey(stroke) if stroke else None,
        "strokeWidth": width,
    }


def _points(points: tuple[tuple[float, float], ...], left: float, top: float) -> list[float]:
    return [number for x, y in points for number in (left + x, top - y)]


def _text(shape: Text, left: float, top: float, faces: Mapping[str, str]) -> rl.String:
    text = fonts.fallback(clean(shape.text), shape.font)
    return rl.String(
        left + shape.x,
        top - shape.y,
        text,
        fontName=faces["sans-bold" if shape.bold else "sans"],
        fontSize=shape.size,
        fillColor=_grey(shape.role),
        textAnchor=shape.anchor,
    )


def _rect(shape: Rect, left: float, top: float) -> Iterator[rl.Shape]:
    width, height = max(shape.width, 0), max(shape.height, 0)
    x, y = left + shape.x, top - shape.y - height
    look = _look(shape.fill, "" if shape.hatch else shape.stroke, shape.stroke_width, shape.opacity)
    if shape.dashed:
        dashes = [4, 3]
    else:
        dashes = None
    yield rl.Rect(
        x, y, width, height, rx=shape.radius, ry=shape.radius, strokeDashArray=dashes, **look
    )
    if shape.hatch:
        for x1, y1, x2, y2 in hatch(width, height):
            yield rl.Line(
                x + x1, y + y1, x + x2, y + y2, strokeColor=_grey(shape.hatch), strokeWidth=0.8
            )
        if shape.stroke:
            edge = _look("", shape.stroke, shape.stroke_width)
            yield rl.Rect(
                x,
                y,
                width,
                height,
                rx=shape.radius,
                ry=shape.radius,
                strokeDashArray=dashes,
                **edge,
            )


def hatch(width: float, height: float) -> Iterator[tuple[float, float, float, float]]:
    """Rising diagonals inside a box, each as x1, y1, x2, y2 from its lower left corner."""
    if width <= 0 or height <= 0:
        return
    step = max(HATCH * 2**0.5, (width + height) / HATCH_MOST)
    offset = step / 2 - height  # the line y = x - offset
    while offset < width:
        x1, x2 = max(offset, 0), min(offset + height, width)
        if x2 > x1:
            yield x1, x1 - offset, x2, x2 - offset
        offset += step
