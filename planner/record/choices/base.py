"""What a choice is: a closed set of words, each with what people read for it, said once."""

from __future__ import annotations

from enum import StrEnum
from typing import Self


class Choice(StrEnum):
    """One of a closed set. A member is the text that is kept, and equal to it; ``words`` is what people read."""

    words: str

    def __new__(cls, key: str, words: str = "") -> Self:
        member = str.__new__(cls, key)
        member._value_ = key
        member.words = words or key
        return member

    @classmethod
    def as_choices(cls) -> dict[str, str]:
        """The words of every member by what is kept of it, in order."""
        return {member.value: member.words for member in cls}

    @classmethod
    def pairs(cls) -> list[tuple[str, str]]:
        """What is kept of each member with its words, as Django takes choices."""
        return [(member.value, member.words) for member in cls]

    @classmethod
    def holds(cls, kept: str) -> bool:
        """Whether a text that was kept is one of them."""
        return kept in cls._value2member_map_

    @classmethod
    def words_of(cls, kept: str, unknown: str | None = None) -> str:
        """What people read for a text that was kept; ``unknown``, or the text itself, where it is no member."""
        member = cls._value2member_map_.get(kept)
        if isinstance(member, Choice):
            return member.words
        if unknown is None:
            return kept
        return unknown
