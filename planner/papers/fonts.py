"""Fonts of the papers and drawings: Source Sans and Source Serif, from their packages.

Importing this module reads nothing. :func:`register` makes the faces known to reportlab, once a
process; :func:`width`, :func:`shorten` and :func:`fallback` call it themselves.
"""

from __future__ import annotations

import functools
import pathlib
import threading
import unicodedata

import font_source_sans_pro
import font_source_serif_pro
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

SANS = "SourceSans"
SANS_BOLD = "SourceSans-Semibold"  # the weight for headings in tables and labels
SANS_BLACK = "SourceSans-Bold"
SANS_ITALIC = "SourceSans-Italic"
SERIF = "SourceSerif"
SERIF_BOLD = "SourceSerif-Semibold"
SERIF_BLACK = "SourceSerif-Bold"
SERIF_ITALIC = "SourceSerif-Italic"

_SANS_FOLDER = pathlib.Path(font_source_sans_pro.font_directory)
_SERIF_FOLDER = pathlib.Path(font_source_serif_pro.font_directory)
FILES = {
    SANS: _SANS_FOLDER / "SourceSansPro-Regular.ttf",
    SANS_BOLD: _SANS_FOLDER / "SourceSansPro-Semibold.ttf",
    SANS_BLACK: _SANS_FOLDER / "SourceSansPro-Bold.ttf",
    SANS_ITALIC: _SANS_FOLDER / "SourceSansPro-It.ttf",
    SERIF: _SERIF_FOLDER / "SourceSerifPro-Regular.ttf",
    SERIF_BOLD: _SERIF_FOLDER / "SourceSerifPro-Semibold.ttf",
    SERIF_BLACK: _SERIF_FOLDER / "SourceSerifPro-Bold.ttf",
    SERIF_ITALIC: _SERIF_FOLDER / "SourceSerifPro-It.ttf",
}
MISSING = "\ufffd"
ELLIPSIS = "…"
WIDE = 1.25  # ems: a Chinese character takes 1, an emoji about 1.25
_lock = threading.Lock()
_registered = False


def register() -> None:
    """Makes every face known to reportlab, and <b> and <i> work in its paragraphs. Safe to repeat."""
    global _registered
    if _registered:
        return
    with _lock:
        if _registered:
            return
        for name, path in FILES.items():
            pdfmetrics.registerFont(TTFont(name, str(path)))
        pdfmetrics.registerFontFamily(
            SANS, normal=SANS, bold=SANS_BOLD, italic=SANS_ITALIC, boldItalic=SANS_BOLD
        )
        pdfmetrics.registerFontFamily(
            SERIF, normal=SERIF, bold=SERIF_BOLD, italic=SERIF_ITALIC, boldItalic=SERIF_BOLD
        )
        _registered = True


@functools.cache
def glyphs(font: str = SANS) -> frozenset[int]:
    """The code points a face can draw."""
    register()
    return frozenset(pdfmetrics.getFont(font).face.charToGlyph)


def fallback(text: object, font: str = SANS) -> str:
    """``text`` with every character the face cannot draw replaced, so that no black box appears.

    Composes accents first (NFC); control and layout characters become spaces or nothing; a character
    without a glyph becomes its plain form where Unicode has one (a full-width digit: the digit),
    otherwise U+FFFD, or "?" where the face lacks even that.
    """
    known = glyphs(font)
    composed = unicodedata.normalize("NFC", str(text))
    if composed.isascii() and composed.isprintable():
        return composed
    if ord(MISSING) in known:
        missing = MISSING
    else:
        missing = "?"
    return "".join(_drawable(character, known, missing) for character in composed)


def _drawable(character: str, known: frozenset[int], missing: str) -> str:
    category = unicodedata.category(character)
    if character in "\t\n\r\v\f" or category in ("Zl", "Zp"):
        return " "
    if category in ("Cc", "Cf", "Cs", "Mn", "Me") and ord(character) not in known:
        if category in ("Cc", "Cf") or "VARIATION" in unicodedata.name(character, ""):
            return ""
        return missing
    if category == "Zs":
        if ord(character) in known:
            return character
        return " "
    if category in ("Cc", "Cf"):
        return ""
    if ord(character) in known:
        return character
    plain = unicodedata.normalize("NFKC", character)
    if plain != character and all(ord(one) in known for one in plain):
        return plain
    return missing


@functools.lru_cache(maxsize=65_536)
def width(text: str, size: float, font: str = SANS) -> float:
    """How wide ``text`` is at ``size`` points, in points.

    A character the face cannot draw counts as a wide one: a browser draws it in some other face.
    """
    known = glyphs(font)
    if text.isascii():
        foreign = 0
    else:
        foreign = sum(ord(one) not in known for one in text)
    if foreign:
        text = "".join(one for one in text if ord(one) in known)
    drawn: float = pdfmetrics.stringWidth(text, font, size)
    return drawn + foreign * WIDE * size


def shorten(text: str, room: float, size: float, font: str = SANS, *, middle: bool = False) -> str:
    """``text`` cut with an ellipsis so that it is at most ``room`` points wide; "" when nothing fits.

    ``middle`` cuts in the middle: names of machines differ at their ends.
    """
    if width(text, size, font) <= room:
        return text
    low, high = 0, min(len(text), 400)  # no label shows more than a few dozen characters
    while low < high:
        kept = (low + high + 1) // 2
        if width(_cut(text, kept, middle), size, font) <= room:
            low = kept
        else:
            high = kept - 1
    if low:
        return _cut(text, low, middle)
    return ""


def _cut(text: str, kept: int, middle: bool) -> str:
    if middle:
        tail = kept * 2 // 3
    else:
        tail = 0
    return text[: kept - tail].rstrip() + ELLIPSIS + (text[-tail:].lstrip() if tail else "")
