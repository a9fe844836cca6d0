"""Marks, circles and small words that every page uses."""

from __future__ import annotations

from django import template
from django.utils.html import format_html

from planner import units
from planner.chapters import show_date
from planner.review import MARKS

register = template.Library()


@register.filter
def mark(weight: str) -> str:
    """A printers' mark with its word for those who cannot see it."""
    if not weight:
        return ""
    return format_html('<span class="mark mark-{}" title="{}">{}<span class="unseen"> {}</span></span>',
                       weight, weight, MARKS[weight], weight)  # fmt: skip


@register.filter
def day(value) -> str:
    return show_date(value) if value else ""


@register.filter
def quantity(value, digits=1) -> str:
    return units.show(value, int(digits))


@register.filter
def lookup(mapping, key):
    return mapping.get(key) if mapping else None


@register.filter
def plural(count: int, words: str) -> str:
    """``{{ n|plural:"stopper,stoppers" }}`` → "2 stoppers"."""
    one, many = words.split(",")
    return f"{count} {one if count == 1 else many}"
