"""Marks, circles and small words that every page uses."""

from __future__ import annotations

import math

from django import template
from django.utils.html import format_html
from django.utils.safestring import mark_safe

from planner import units
from planner.chapters import BY_NUMBER, show_date
from planner.review import MARKS
from planner.review.words import chance_words

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
def assumed(one) -> str:
    """A planning number's value with its unit: ``70 %`` for a share, ``6 vCPU a core``."""
    if one.unit == "share":
        return f"{units.show(one.value * 100, 2)} %"
    return f"{units.show(one.value, 3)} {one.unit}"


@register.filter
def named(facts, id) -> str:
    """A network's name."""
    return facts.named("network", id)


@register.filter
def seconds(value) -> str:
    return units.show_seconds(value)


@register.filter
def wait(value) -> str:
    """A wait in seconds; somebody who never gets a desktop waits for ever."""
    if value is None:
        return "—"
    return "no desktop" if math.isinf(value) else units.show_seconds(value)


@register.filter
def minutes(value) -> str:
    return units.show_minutes(value)


@register.filter
def share(value) -> str:
    """A share as per cent."""
    return "not known" if value is None else f"{units.show(100 * value, 0)} %"


@register.filter
def chance(value) -> str:
    return chance_words(value)


@register.filter
def chapter_slug(number: int) -> str:
    """A chapter's word in addresses."""
    return BY_NUMBER[number].slug


@register.filter
def lookup(mapping, key):
    return mapping.get(key) if mapping else None


@register.filter
def at(items: list, index: int):
    """The item at a place of a list, or "" past its end."""
    return items[index] if index < len(items) else ""


@register.filter
def plural(count: int, words: str) -> str:
    """``{{ n|plural:"stopper,stoppers" }}`` → "2 stoppers"."""
    one, many = words.split(",")
    return f"{count} {one if count == 1 else many}"


ANSWERS = {"open": "open", "proven": "proven", "trust": "on trust", "excused": "excused", "failed": "failed"}
CIRCLES = {
    "open": "",
    "proven": '<circle cx="10" cy="10" r="8" fill="currentColor"/><path d="M6 10l3 3 5-6" class="cut"/>',
    "trust": '<path d="M10 2a8 8 0 0 1 0 16z" fill="currentColor"/>',
    "excused": '<path d="M6 10h8" class="stroke"/>',
    "failed": '<path d="M7 7l6 6M13 7l-6 6" class="stroke"/>',
}


@register.filter
def circle(state: str) -> str:
    """An answer's circle with its word: a circle is a person's, a mark is the engine's."""
    shape = mark_safe(CIRCLES[state])  # noqa: S308  (own constant)
    return format_html(
        '<span class="answer answer-{}"><svg viewBox="0 0 20 20" aria-hidden="true">'
        '<circle cx="10" cy="10" r="8" class="stroke"/>{}</svg> {}</span>',
        state, shape, ANSWERS[state],
    )  # fmt: skip
