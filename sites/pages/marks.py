"""Printers' marks, as pages show them."""

from __future__ import annotations

from django.utils.html import format_html

from planner.review import MARKS
from planner.review.base import Weight


def mark(weight: str) -> str:
    """A printers' mark with its word for those who cannot see it."""
    if not weight:
        return ""
    return format_html(
        '<span class="mark mark-{}" title="{}">{}<span class="unseen"> {}</span></span>',
        weight,
        weight,
        MARKS[Weight(weight)],
        weight,
    )
