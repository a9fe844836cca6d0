"""Secrets typed by mistake, found in a text before it is kept.

Three ways: shapes that are told by themselves (:mod:`shapes`: a private key, a token), words with a value behind
them (:mod:`said`: *the PIN is …*) in English, German, French and Spanish, and some that are said in one way alone
(:mod:`alone`). What is found is named, never repeated whole.
"""

from __future__ import annotations

import bisect
import re
from dataclasses import dataclass
from itertools import islice

from planner.secrets_typed.alone import find_alone
from planner.secrets_typed.plain import Place, Plain, seen
from planner.secrets_typed.said import find_said
from planner.secrets_typed.shapes import find_shapes

MOST_FOUND = 50
PLACES_EACH = 4  # so many places of each way for one that is found: some may be two names for one
SENTENCE = 400  # letters of a sentence on either side
SHOWN = 48  # letters that are quoted
_ENDS = re.compile(r"[.!?;](?=\s)|\n")


@dataclass(frozen=True)
class Found:
    """One secret, or what looks like one.

    ``start`` and ``end`` are its place in the text as typed. ``what`` names it: *a PIN*. ``words`` quotes its
    beginning, so that whoever typed it knows it again, and nobody else learns it. ``certain`` says that it can be
    nothing else. ``sentence`` is the sentence it stands in, in plain letters: what is said of it, is said of that.
    """

    start: int
    end: int
    what: str
    words: str
    certain: bool
    sentence: str


def finds(text: str, most: int = MOST_FOUND) -> list[Found]:
    """The secrets in a text, in its order. Of more than ``most`` those that are certain come first, then the first;
    whoever gets fewer got all."""
    plain = Plain(text)
    places = [
        *islice(find_shapes(plain), PLACES_EACH * most),
        *islice(find_said(plain), PLACES_EACH * most),
        *islice(find_alone(plain), PLACES_EACH * most),
    ]
    kept: list[Place] = []  # in the order of the text
    for place in sorted(places, key=lambda one: (not one.certain, one.start)):
        at = bisect.bisect(kept, place.start, key=lambda one: one.start)
        clear_before = at == 0 or kept[at - 1].end <= place.start
        if clear_before and (at == len(kept) or place.end <= kept[at].start):
            kept.insert(at, place)
        if len(kept) == most:
            break
    return [_found(plain, place) for place in kept]


def _found(plain: Plain, place: Place) -> Found:
    start, end = plain.typed(place.start, place.end)
    return Found(
        start, end, place.what, _words(plain, place), place.certain, _sentence(plain.text, place)
    )


def _words(plain: Plain, place: Place) -> str:
    """Its beginning, and what stands behind the hidden part of it."""
    before = seen(plain.typed_text(place.start, place.hidden[0]))
    behind = seen(plain.typed_text(place.hidden[1], place.end))
    if len(before) > SHOWN:
        before = f"{before[: SHOWN // 2]} … {before[-SHOWN // 2 :]}"
    return f"{before}…{behind}"


def _sentence(text: str, place: Place) -> str:
    """The sentence, or the line, that a place stands in."""
    before = text[max(0, place.start - SENTENCE) : place.start]
    behind = text[place.end : place.end + SENTENCE]
    start = max((found.end() for found in _ENDS.finditer(before)), default=0)
    ends = _ENDS.search(behind)
    whole = (
        before[start:]
        + text[place.start : place.end]
        + behind[: ends.start() if ends else len(behind)]
    )
    return " ".join(whole.split())
