"""Lifecycles: until when the system in an image is mended, by what its publisher has published.

The dates are data, ``fixtures/catalogue/lifecycles.toml``. People write an operating system in
words; a row is found only where those words leave no doubt, for a wrong date is worse than none.
"""

from __future__ import annotations

import datetime as dt
import functools
import re
from dataclasses import dataclass

from planner.catalogue import files as catalogue
from planner.catalogue.assumptions import Numbers
from planner.record.choices import Choice
from planner.record.facts import Id, Image, SiteFacts

FROM_MEMORY = "from memory"
LONGEST = 300  # letters of a text that are looked at
_WORD = re.compile(
    r"[a-z](?![a-z])[0-9]*|[a-z]+|[0-9]+[a-z0-9]*(?:\.[0-9]+)*"
)  # a1, abc, 12ab or 12.3.4


@dataclass(frozen=True, slots=True)
class Row:
    """One published date; what each field holds stands at the head of the catalogue's file."""

    key: str
    name: str
    edition: str
    publisher: str
    ends: dt.date
    source: str
    read: str
    seen: str
    words: tuple[str, ...]
    editions: tuple[str, ...]
    unlike: tuple[str, ...]
    note: str = ""

    @property
    def label(self) -> str:
        if self.edition:
            return f"{self.name} ({self.edition})"
        return self.name


class SupportState(Choice):
    ENDED = "ended"
    SOON = "soon"  # within the days wanted
    ENOUGH = "enough"
    UNKNOWN = ""


@dataclass(frozen=True, slots=True)
class Lifecycle:
    """One image's end of support, in days counted from go-live, or from today where that is later.

    ``rows`` are the published dates that fit the image's words: one, several when its edition is not
    said, or none. ``published`` is the date when it is certain; ``typed`` is what people wrote.
    ``days`` is how long after the start ``ends`` (typed, else published) comes, negative when before.
    """

    image_id: Id
    name: str
    text: str
    rows: tuple[Row, ...]
    published: dt.date | None
    typed: dt.date | None
    days: int | None
    state: SupportState

    @property
    def ends(self) -> dt.date | None:
        return self.typed or self.published

    @property
    def differs(self) -> bool:
        return (
            self.typed is not None and self.published is not None and self.typed != self.published
        )


@dataclass(frozen=True, slots=True)
class Lifecycles:
    """``start`` is the day the days are counted from, ``wanted`` how many are wanted from it on."""

    images: tuple[Lifecycle, ...]
    start: dt.date
    wanted: float

    def of(self, image_id: Id | None) -> Lifecycle | None:
        return next((one for one in self.images if one.image_id == image_id), None)


@functools.cache
def listed() -> tuple[Row, ...]:
    """Every published date. Raises CatalogueError on a bad entry."""
    found = []
    for key, entry in catalogue.load("lifecycles").items():
        lists = {name: tuple(entry.get(name, ())) for name in ("words", "editions", "unlike")}
        try:
            row = Row(key=key, **{**entry, **lists})
        except TypeError as error:
            raise catalogue.CatalogueError(f"lifecycles: {key}: {error}") from error
        if (
            not row.words
            or not isinstance(row.ends, dt.date)
            or not (row.read == FROM_MEMORY or row.seen)
        ):
            raise catalogue.CatalogueError(
                f"lifecycles: {key}: words, date or what was read is missing"
            )
        found.append(row)
    return tuple(found)


def rows_for(text: str) -> tuple[tuple[Row, ...], bool]:
    """The rows that fit an operating system in words, and whether they name one end beyond doubt.

    Several rows come back when the text does not say the edition; none when it names two systems,
    or none at all.
    """
    tokens = _tokens(text)
    fitting = [row for row in listed() if _fits(row, tokens)]
    named = [row for row in fitting if not row.editions or _any(row.editions, tokens)]
    unsaid = [row for row in fitting if row.editions and not _any(_editions_of(row), tokens)]
    found = [
        row for row in (*named, *unsaid) if not any(_narrower(other, row) for other in fitting)
    ]
    if len({row.name for row in found}) != 1:
        return (), False
    return tuple(found), not any(row in unsaid for row in found) and len(
        {row.ends for row in found}
    ) == 1


def work_out(facts: SiteFacts, numbers: Numbers) -> Lifecycles:
    """The lifecycle of every image."""
    start = max(facts.site.go_live_date or facts.today, facts.today)
    wanted = numbers["image.support-days"]
    return Lifecycles(
        tuple(_lifecycle(image, start, wanted) for image in facts.images), start, wanted
    )


def _lifecycle(image: Image, start: dt.date, wanted: float) -> Lifecycle:
    rows, certain = rows_for(image.operating_system)
    if certain:
        published = rows[0].ends
    else:
        published = None
    ends = image.support_ends or published
    if ends is None:
        days = None
    else:
        days = (ends - start).days
    return Lifecycle(
        image_id=image.id,
        name=image.label,
        text=image.operating_system,
        rows=rows,
        published=published,
        typed=image.support_ends,
        days=days,
        state=_state(days, wanted),
    )


def _state(days: int | None, wanted: float) -> SupportState:
    if days is None:
        return SupportState.UNKNOWN
    if days < 0:
        return SupportState.ENDED
    if days < wanted:
        return SupportState.SOON
    return SupportState.ENOUGH


# -- Words ----------------------------------------------------------------------------------------


def _tokens(text: str) -> frozenset[str]:
    """The words and numbers of a text: letters and a number that are written together come apart."""
    return frozenset(_WORD.findall(text[:LONGEST].casefold()))


def _has(word: str, tokens: frozenset[str]) -> bool:
    """Whether a word (or one of ``a|b``) stands there; a number may stand with its minor releases."""
    return any(
        one in tokens
        or (one[-1].isdigit() and any(token.startswith(f"{one}.") for token in tokens))
        for one in word.split("|")
    )


def _any(words: tuple[str, ...], tokens: frozenset[str]) -> bool:
    return any(_has(word, tokens) for word in words)


def _fits(row: Row, tokens: frozenset[str]) -> bool:
    return all(_has(word, tokens) for word in row.words) and not _any(row.unlike, tokens)


def _editions_of(row: Row) -> tuple[str, ...]:
    """The editions of every row about the same release."""
    return tuple(word for other in listed() if other.name == row.name for word in other.editions)


def _narrower(one: Row, other: Row) -> bool:
    """Whether a row names more than another does: a version rather than the whole product."""
    return set(one.words) > set(other.words)
