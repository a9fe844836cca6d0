"""Distinguished names: where in a directory something stands. Source: RFC 4514 §3."""

from __future__ import annotations

import re

Part = tuple[
    tuple[str, str], ...
]  # attribute type and value; more than one pair when joined by "+"

_TYPE = re.compile(r"(?:[A-Za-z][A-Za-z0-9-]*|(?:0|[1-9][0-9]*)(?:\.(?:0|[1-9][0-9]*))+)=")
_HEX_STRING = re.compile(r"#(?:[0-9A-Fa-f]{2})+")
_PAIR = re.compile(r'\\(?:([\\"+,;<> #=])|([0-9A-Fa-f]{2}))')
_MUST_ESCAPE = '"+,;<>\\\0'


def parse(text: str) -> tuple[Part, ...] | None:
    """The parts of a distinguished name, the innermost first; None when it is not one.

    Values are unescaped; a value in hexadecimal (``#0402…``) stays as written. Spaces before an
    attribute type are let pass, as §3 allows: people type one after a comma. Bytes that are no UTF-8
    make it None. The empty text is the empty name.
    """
    if not text:
        return ()
    parts: list[Part] = []
    pairs: list[tuple[str, str]] = []
    at = 0
    while True:
        while text.startswith(" ", at):
            at += 1
        found = _TYPE.match(text, at)
        if not found:
            return None
        value = _value(text, found.end())
        if value is None:
            return None
        pairs.append((found[0][:-1], value[0]))
        at = value[1]
        joined = text.startswith("+", at)
        if not joined:
            parts.append(tuple(pairs))
            pairs = []
        if at == len(text):
            return tuple(parts)
        at += 1


def values(parts: tuple[Part, ...], kind: str) -> list[str]:
    """The values of one attribute type (``ou``, ``dc``), in the name's order. Types know no case."""
    return [value for part in parts for key, value in part if key.lower() == kind]


def _value(text: str, start: int) -> tuple[str, int] | None:
    """The value from ``start`` on, and where it ends (at a comma, a plus or the end); None when malformed."""
    if text.startswith("#", start):
        found = _HEX_STRING.match(text, start)
        if found and text[found.end() : found.end() + 1] in ("", ",", "+"):
            return (found[0], found.end())
        return None
    collected, at, last_is_space = bytearray(), start, False
    while at < len(text) and text[at] not in ",+":
        escaped = _PAIR.match(text, at)
        if escaped:
            collected += bytes.fromhex(escaped[2]) if escaped[2] else escaped[1].encode()
            at, last_is_space = escaped.end(), False
            continue
        sign = text[at]
        if sign in _MUST_ESCAPE or (sign == " " and at == start):
            return None
        collected += sign.encode("utf-8", "surrogatepass")
        at, last_is_space = at + 1, sign == " "
    if last_is_space:
        return None
    try:
        return collected.decode("utf-8"), at
    except UnicodeDecodeError:
        return None
