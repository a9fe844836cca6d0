"""Makes typed text safe in files that spreadsheet programs open.

A cell that begins with = + - @ may be run as a formula, and so can one that gets there behind blanks,
quotes or a separator. Source: OWASP, CSV Injection.
"""

from __future__ import annotations

import re

STARTS = "=+-@＝＋－＠"  # the full-width forms are read as the plain ones by some programs
CUT = 32_000  # letters of one cell; a spreadsheet holds 32,767
_LEAD = " \u00a0\u2007\u202f\u3000'\"‘’“”`´\u200b\u2060\ufeff"
_NEGATIVE = re.compile(r"-[0-9]+(?:[.,][0-9]+)?\Z")
_BEHIND_SEPARATOR = re.compile(rf"(;[{re.escape(_LEAD)}]*)(?=[{re.escape(STARTS)}])")
_GUARDED = re.compile(rf"(;[{re.escape(_LEAD)}]*)'(?=[{re.escape(STARTS)}])")
# Letters that XML 1.0 does not allow, broken surrogates, and controls.
_ILLEGAL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
_BREAKS = re.compile(r"[\t\r\n\u2028\u2029]+")


def clean(value: object) -> str:
    """Text of one line without characters that a file may not hold, cut to what a cell holds."""
    text = _ILLEGAL.sub("", _BREAKS.sub(" ", str(value)))
    if len(text) <= CUT:
        return text
    return text[: CUT - 1] + "…"


def dangerous(text: str) -> bool:
    """Whether a spreadsheet might run a cleaned text as a formula. A plain negative number is none."""
    core = text.lstrip(_LEAD)
    return core[:1] in STARTS and bool(core) and not _NEGATIVE.match(text)


def for_csv(value: object) -> str:
    """A text for a CSV file: an apostrophe before whatever might be run.

    Also behind a semicolon: where that is the list separator, a spreadsheet splits there, quotes or not.
    """
    text = _BEHIND_SEPARATOR.sub(r"\1'", clean(value))
    if dangerous(text):
        return "'" + text
    return text


def from_csv(text: str) -> str:
    """What :func:`for_csv` was given, from what it gave: without the apostrophes it put there."""
    if text.startswith("'") and dangerous(text[1:]):
        text = text[1:]
    return _GUARDED.sub(r"\1", text)


def for_xlsx(value: object) -> str:
    """A text for an XLSX file, to be written as a string cell, where nothing is ever run.

    ``_x0041_`` stands for one letter in that format, so its first sign is written out.
    """
    return re.sub(r"_(?=x[0-9A-Fa-f]{4}_)", "_x005F_", clean(value))
