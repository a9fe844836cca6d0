"""A text as it was meant: without what nobody sees, in plain letters and signs, and the way back to the text typed.

Full-width letters become plain ones, accents and zero-width signs go, letters of other alphabets that look like Latin
ones become those, and the many quotation marks, dashes and arrows become one of each.
"""

from __future__ import annotations

import bisect
import re
import unicodedata
from dataclasses import dataclass

PIECE = 4096
_UNSEEN = re.compile(
    "[\u0300-\u036f\u0483-\u0489\u061c\u00ad\u115f\u1160\u17b4\u17b5\u180b-\u180f\u1ab0-\u1aff\u1dc0-\u1dff"
    "\u200b-\u200f\u202a-\u202e\u2060-\u206f\u20d0-\u20ff\ufe00-\ufe0f\ufe20-\ufe2f\ufeff\ufff9-\ufffb"
    "\U000e0000-\U000e0fff]+"
)
_SIGNS = {
    "'": "‘’‚‛′‵´`",
    '"': "“”„‟«»‹›″〝〞",
    "—": "–—―‒⸺−",
    "-": "‐‑⁃",
    "→": "→⇒⇨➔➜➝➞➡⟶⟹↦⮕▶►",
    ":": "∶꞉ː։",
    "=": "≔≡",
    "/": "⁄∕",
    "•": "•‣◦▪∙·",
    " ": "\u1680\u2028\u2029",
    # Cyrillic and Greek letters that nobody tells from Latin ones
    "a": "аα",
    "A": "АΑ",
    "B": "ВΒ",
    "c": "сϲ",
    "C": "СϹ",
    "d": "ԁ",
    "e": "еε",
    "E": "ЕΕ",
    "h": "һ",
    "H": "НΗ",
    "i": "іι",
    "I": "ІΙ",
    "j": "ј",
    "J": "Ј",
    "k": "кκ",
    "K": "КΚ",
    "m": "м",
    "M": "МΜ",
    "n": "п",
    "N": "Ν",
    "o": "оοσ",
    "O": "ОΟ",
    "p": "рρ",
    "P": "РΡ",
    "q": "ԛ",
    "r": "г",
    "s": "ѕ",
    "S": "Ѕ",
    "t": "тτ",
    "T": "ТΤ",
    "u": "υ",
    "v": "ѵν",
    "w": "ԝω",
    "x": "хχ",
    "X": "ХΧ",
    "y": "уγ",
    "Y": "УΥ",
    "Z": "Ζ",
}
_ONE_OF_EACH = str.maketrans({sign: plain for plain, signs in _SIGNS.items() for sign in signs})
_ONE_OF_EACH |= {ord("ß"): "ss", ord("æ"): "ae", ord("œ"): "oe", ord("ø"): "o", ord("ı"): "i"}


@dataclass(frozen=True)
class Place:
    """Something found in a plain text: ``start`` to ``end`` is the whole of it, ``hidden`` the part of it that nobody
    is shown again."""

    what: str
    start: int
    end: int
    hidden: tuple[int, int]
    certain: bool = False


class Plain:
    """``text`` is what was meant, ``lower`` the same in small letters; :meth:`typed` leads back."""

    def __init__(self, typed: str):
        self._typed = typed
        pieces = [plainly(typed[at : at + PIECE]) for at in range(0, len(typed), PIECE)]
        self.text = "".join(pieces)
        self.lower = self.text.lower()
        if len(self.lower) != len(self.text):  # a letter whose small form is two: as good as never
            self.lower = "".join(letter.lower()[0] for letter in self.text)
        self._starts = [0]
        for piece in pieces:
            self._starts.append(self._starts[-1] + len(piece))

    def typed(self, start: int, end: int) -> tuple[int, int]:
        """Where a stretch of the plain text stands in the text as it was typed."""
        return self._place(start), self._place(end - 1) + 1

    def typed_text(self, start: int, end: int) -> str:
        """A stretch of the plain text, as it was typed."""
        if start >= end:
            return ""
        first, last = self.typed(start, end)
        return self._typed[first:last]

    def _place(self, at: int) -> int:
        piece = max(0, bisect.bisect_right(self._starts, at) - 1)
        first, reached = piece * PIECE, self._starts[piece]
        if (
            self._starts[piece + 1] - reached == PIECE
            and self._typed[first : first + PIECE].isascii()
        ):
            return first + at - reached
        for place, letter in enumerate(self._typed[first : first + PIECE], first):
            reached += len(plainly(letter))
            if reached > at:
                return place
        return len(self._typed) - 1


def seen(text: str) -> str:
    """What of a text is seen, on one line."""
    kept = _UNSEEN.sub("", text)
    if kept[:1].isspace():
        lead = " "
    else:
        lead = ""
    return lead + " ".join(kept.split())


def plainly(text: str) -> str:
    """A text in plain letters and signs."""
    if text.isascii():
        return text
    apart = unicodedata.normalize("NFKD", text.translate(_ONE_OF_EACH))
    return _UNSEEN.sub("", apart).translate(_ONE_OF_EACH)
