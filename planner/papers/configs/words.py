"""Typed text in configurations: one clean line, wrapped behind a comment sign.

What people typed is only ever told, never obeyed: it stands in comments and in quoted strings, and
both are made here. Names, addresses and numbers that a program acts on are written from checked values.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

WIDTH = 100  # letters of a comment's line. One program reads lines in pieces of 1,025 bytes, and obeys the rest


def one_line(text: object, most: int = 160) -> str:
    """A text of one line that holds nothing but letters, signs and single spaces, at most ``most`` long.

    Line ends, controls, marks that turn the direction of writing, and letters nobody can see become
    a space. A backslash becomes a slash: at the end of a line it would join the next one to the comment.
    """
    raw = str(text)[: 4 * most]
    seen = "".join(letter if letter.isprintable() else " " for letter in raw.replace("\\", "/"))
    found = " ".join(seen.split())
    if len(found) <= most:
        return found
    return found[: most - 1].rstrip() + "…"


def quoted(text: object, most_bytes: int) -> str:
    """A text in double quotes for programs that know no escapes: a quote in it becomes an apostrophe.

    ``most_bytes`` bounds what is between the quotes, in UTF-8.
    """
    plain = one_line(text, most_bytes).replace('"', "'")
    while len(plain.encode()) > most_bytes:
        plain = plain[: min(len(plain) - 1, most_bytes)]
    return f'"{plain.rstrip()}"'


def wrapped(text: str, indent: str = "") -> list[str]:
    """A clean text in lines that fit a comment, all but the first behind ``indent``."""
    return textwrap.wrap(text, WIDTH, subsequent_indent=indent, break_on_hyphens=False) or [""]


def commented(lines: Iterable[str], sign: str) -> list[str]:
    """Clean lines behind a comment sign, for the head of a file."""
    return [f"{sign} {line}".rstrip() for line in lines]
