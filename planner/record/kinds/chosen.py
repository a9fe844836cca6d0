"""Kinds of choices: one or several of the field's own."""

from __future__ import annotations

from typing import Any

from planner.record.facts import SiteFacts
from planner.record.kinds.base import Described, Kind, parts


def key_of(field: Described, text: str) -> str:
    """The key of a choice from its words or its key. Raises ``ValueError`` naming what may be chosen."""
    for key, words in field.choices.items():
        if text.strip().lower() in (key.lower(), words.lower()):
            return key
    raise ValueError(f"“{text}” is not one of {', '.join(field.choices.values())}.")


class Choice(Kind):
    """One of the field's choices, kept by its key; "" or ``None`` while nobody knows."""

    word = "choice"
    chosen = True
    keeps_number = False  # its keys are kept as numbers

    def show(self, field: Described, value: Any, facts: SiteFacts) -> str:
        return field.choices.get(str(value), str(value))

    def read(self, field: Described, text: str, facts: SiteFacts) -> str | int:
        key = key_of(field, text)
        if self.keeps_number:
            return int(key)
        return key

    def sent(self, field: Described, text: str, facts: SiteFacts) -> str:
        return key_of(field, text)

    def kept(self, key: str) -> str | int | None:
        """A choice's key as it is kept; "" is that nobody knows."""
        if not self.keeps_number:
            return key
        if key:
            return int(key)
        return None


class AlwaysChosen(Choice):
    """A choice without a "not known" among its words."""

    required = True


class NumberChoice(Choice):
    """A choice whose keys are numbers, and are kept as such."""

    keeps_number = True


class AlwaysChosenNumber(NumberChoice):
    required = True

    def kept(self, key: str) -> str | int | None:
        return int(key or 1)


class Several(Kind):
    """Any of the field's choices."""

    word = "several"
    ticked = True
    width = 24
    chosen = True
    several = True

    def show(self, field: Described, value: Any, facts: SiteFacts) -> str:
        return ", ".join(field.choices.get(key, key) for key in value)

    def read(self, field: Described, text: str, facts: SiteFacts) -> tuple[str, ...]:
        return tuple(key_of(field, part) for part in parts(text))

    def sent(self, field: Described, text: str, facts: SiteFacts) -> list[str]:
        return [key_of(field, part) for part in parts(text)]
