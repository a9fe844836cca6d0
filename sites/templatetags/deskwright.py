"""Marks, circles and small words that every page uses."""

from __future__ import annotations

import math
from collections.abc import Mapping

from django import template
from django.utils.html import format_html
from django.utils.safestring import mark_safe

from planner.record import units
from planner.record.chapters import BY_NUMBER, show_date
from planner.record.choices import AnswerState
from planner.review.words import chance_words
from planner.stages.day_words import length_words
from sites.actions.once import NAME, new_token, token_of
from sites.actions.proofs import path_of
from sites.models.stages import StepState
from sites.pages.marks import mark

register = template.Library()


@register.simple_tag(takes_context=True)
def once(context) -> str:
    """The hidden token of a form that adds something. A form that is shown again keeps the one it was sent with."""
    request = context.get("request")
    if request is not None:
        token = token_of(request.POST)
    else:
        token = ""
    return format_html('<input type="hidden" name="{}" value="{}">', NAME, token or new_token())


register.filter("mark", mark)


@register.filter
def day(value) -> str:
    if value:
        return show_date(value)
    return ""


@register.filter
def quantity(value, digits=1) -> str:
    return units.show(value, digits)


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
    if math.isinf(value):
        return "no desktop"
    return units.show_seconds(value)


@register.filter
def minutes(value) -> str:
    return units.show_minutes(value)


@register.filter
def share(value) -> str:
    """A share as per cent."""
    if value is None:
        return "not known"
    return f"{units.show(100 * value, 0)} %"


@register.filter
def chance(value) -> str:
    return chance_words(value)


@register.filter
def chapter_slug(number: int) -> str:
    """A chapter's word in addresses."""
    return BY_NUMBER[number].slug


@register.filter
def lookup(mapping, key):
    if mapping:
        return mapping.get(key)
    return None


@register.filter
def at(items: list, index: int):
    """The item at a place of a list, or "" past its end."""
    if index < len(items):
        return items[index]
    return ""


@register.filter
def plural(count: int, words: str) -> str:
    """``{{ n|plural:"stopper,stoppers" }}`` → "2 stoppers"."""
    one, many = words.split(",")
    return f"{count} {one if count == 1 else many}"


CIRCLES: Mapping[str, str] = {
    AnswerState.OPEN: "",
    AnswerState.PROVEN: '<circle cx="10" cy="10" r="8" fill="currentColor"/><path d="M6 10l3 3 5-6" class="cut"/>',
    AnswerState.TRUST: '<path d="M10 2a8 8 0 0 1 0 16z" fill="currentColor"/>',
    AnswerState.EXCUSED: '<path d="M6 10h8" class="stroke"/>',
    AnswerState.FAILED: '<path d="M7 7l6 6M13 7l-6 6" class="stroke"/>',
}


@register.filter
def circle(state: str, words: str = "") -> str:
    """An answer's circle with its word, or other words: a circle is a person's, a mark is the engine's."""
    shape = mark_safe(CIRCLES[state])  # noqa: S308  (own constant)
    return format_html(
        '<span class="answer answer-{}"><svg viewBox="0 0 20 20" aria-hidden="true">'
        '<circle cx="10" cy="10" r="8" class="stroke"/>{}</svg> {}</span>',
        state,
        shape,
        words or AnswerState.words_of(state),
    )


BOXES: Mapping[str, str] = {
    StepState.DONE: '<path d="M6 10l3 3 5-6" class="stroke"/>',
    StepState.UNDER_WAY: '<path d="M3 10h14v7H3z" fill="currentColor"/>',
    StepState.READY: "",
    StepState.BLOCKED: '<path d="M6 10h8" class="stroke"/>',
}


@register.filter
def box(state: str) -> str:
    """A step's box with its word: a box is ticked when a step is done, as on paper."""
    shape = mark_safe(BOXES[state])  # noqa: S308  (own constant)
    return format_html(
        '<span class="answer box-{}"><svg viewBox="0 0 20 20" aria-hidden="true">'
        '<rect x="3" y="3" width="14" height="14" class="stroke"/>{}</svg> {}</span>',
        state.replace(" ", "-"),
        shape,
        StepState.words_of(state),
    )


@register.filter
def range_of(minutes) -> str:
    """``about 20 min (10 to 40)``."""
    low, likely, high = minutes
    if low != high:
        spread = f" ({units.show_minutes(low)} to {units.show_minutes(high)})"
    else:
        spread = ""
    return f"about {units.show_minutes(likely)}{spread}"


@register.filter
def work(minutes) -> str:
    """A length of work: ``45 min``, ``8 h 15 min``."""
    return length_words(minutes)


@register.filter
def minus(number: int, other: int) -> int:
    return number - other


@register.filter
def missing_at(proof, site) -> bool:
    """Whether a photo or file kept as proof at a site is not where it was put."""
    return path_of(site, proof.place) is None
