"""Drawings made once for screen and paper."""

from planner.papers.drawings.paper import to_reportlab
from planner.papers.drawings.shapes import Drawing
from planner.papers.drawings.svg import to_svg

__all__ = ["Drawing", "to_reportlab", "to_svg"]
