"""A drawing as inline SVG for a page under a strict Content-Security-Policy.

There are no styles in it: every shape has classes (``d-fill-ROLE``, ``d-stroke-ROLE``, ``d-text``) that
the style sheet colours for light, dark and print, and presentation attributes with the light colours,
so that it is right on its own too.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from xml.sax.saxutils import escape

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

LIGHT = {
    "ink": "#1d2730",
    "soft": "#5a6470",
    "rule": "#d9d1c0",
    "edge": "#857b66",
    "line": "#1f5673",
    "on-line": "#fdfbf6",
    "pencil": "#6b4c2a",
    "stopper": "#9a2617",
    "concern": "#7a5200",
    "proven": "#2c6136",
    "paper": "#fdfbf6",
    "band": "#f3eee2",
    "desk": "#e9e4d8",
}
DASHES = "4 3"


def to_svg(drawing: Drawing, id_prefix: str) -> str:
    """The drawing as an ``<svg>`` element; ``id_prefix`` makes its ids unique on the page.

    Its title and description are read out in its place (role ``img``).
    """
    prefix = re.sub(r"[^A-Za-z0-9_-]", "-", f"d-{id_prefix}")
    width, height = _number(drawing.width), _number(drawing.height)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing" viewBox="0 0 {width} {height}" width="{width}" '
        f'height="{height}" role="img" aria-labelledby="{prefix}-title {prefix}-desc">',
        f'<title id="{prefix}-title">{escape(clean(drawing.title))}</title>',
        f'<desc id="{prefix}-desc">{escape(clean(drawing.description))}</desc>',
    ]
    hatches = sorted(set(_hatches(drawing.shapes)))
    if hatches:
        parts.append("<defs>" + "".join(_pattern(role, prefix) for role in hatches) + "</defs>")
    parts += _rendered(drawing.shapes, prefix)
    return "".join([*parts, "</svg>"])


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _hatches(shapes: Iterable[Shape]) -> Iterator[str]:
    for shape in shapes:
        if isinstance(shape, Group):
            yield from _hatches(shape.shapes)
        elif isinstance(shape, Rect) and shape.hatch:
            yield shape.hatch


def _pattern(role: str, prefix: str) -> str:
    return (
        f'<pattern id="{prefix}-hatch-{role}" width="6" height="6" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="6" {_look("", role, 2.2)}/></pattern>'
    )


def _look(
    fill: str, stroke: str = "", width: float = 1, dashed: bool = False, opacity: float = 1
) -> str:
    """Fill and stroke of a shape; "" is none."""
    classes = [f"d-{what}-{role}" for what, role in (("fill", fill), ("stroke", stroke)) if role]
    if classes:
        parts = [f'class="{" ".join(classes)}"']
    else:
        parts = []
    parts.append(f'fill="{LIGHT[fill] if fill else "none"}"')
    if fill and opacity < 1:
        parts.append(f'fill-opacity="{_number(opacity)}"')
    if stroke:
        parts.append(f'stroke="{LIGHT[stroke]}" stroke-width="{_number(width)}"')
        if dashed:
            parts.append(f'stroke-dasharray="{DASHES}"')
    return " ".join(parts)


def _rendered(shapes: Iterable[Shape], prefix: str) -> Iterator[str]:
    for shape in shapes:
        match shape:
            case Rect():
                yield from _rect(shape, prefix)
            case Line(x1, y1, x2, y2, stroke, width, dashed):
                ends = (
                    f'x1="{_number(x1)}" y1="{_number(y1)}" x2="{_number(x2)}" y2="{_number(y2)}"'
                )
                yield f"<line {ends} {_look('', stroke, width, dashed)}/>"
            case Path(points, stroke, width, dashed):
                yield f'<polyline points="{_points(points)}" {_look("", stroke, width, dashed)}/>'
            case Polygon(points, fill, stroke, width):
                yield f'<polygon points="{_points(points)}" {_look(fill, stroke, width)}/>'
            case Circle(x, y, radius, fill, stroke, width):
                place = f'cx="{_number(x)}" cy="{_number(y)}" r="{_number(radius)}"'
                yield f"<circle {place} {_look(fill, stroke, width)}/>"
            case Text():
                yield _text(shape)
            case Group(inner, x, y):
                yield f'<g transform="translate({_number(x)} {_number(y)})">'
                yield from _rendered(inner, prefix)
                yield "</g>"


def _rect(shape: Rect, prefix: str) -> Iterator[str]:
    place = (
        f'x="{_number(shape.x)}" y="{_number(shape.y)}" width="{_number(max(shape.width, 0))}" '
        f'height="{_number(max(shape.height, 0))}"'
        + (f' rx="{_number(shape.radius)}"' if shape.radius else "")
    )
    look = _look(shape.fill, shape.stroke, shape.stroke_width, shape.dashed, shape.opacity)
    yield f"<rect {place} {look}/>"
    if shape.hatch:
        yield f'<rect {place} fill="url(#{prefix}-hatch-{shape.hatch})"/>'


def _points(points: tuple[tuple[float, float], ...]) -> str:
    return " ".join(f"{_number(x)},{_number(y)}" for x, y in points)


def _text(shape: Text) -> str:
    look = f'x="{_number(shape.x)}" y="{_number(shape.y)}" font-size="{_number(shape.size)}"'
    if shape.anchor != "start":
        look += f' text-anchor="{shape.anchor}"'
    if shape.bold:
        look += ' font-weight="600"'
    colour = LIGHT[shape.role]
    return f'<text {look} class="d-text d-fill-{shape.role}" fill="{colour}">{escape(clean(shape.text))}</text>'
