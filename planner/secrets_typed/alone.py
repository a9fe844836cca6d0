"""Secrets that are said in one way alone: *code 4711 opens the door*, *key safe 4711*, *root/…*."""

from __future__ import annotations

import re
from collections.abc import Iterator

from planner.secrets_typed import words
from planner.secrets_typed.plain import Place, Plain
from planner.secrets_typed.said import of_value

_OPENED = re.compile(
    r"(?<![a-z0-9-])(?<!error )(?<!status )code\s{1,2}(?P<value>\d{4,8}[#*]?)\s{1,2}"
    r"(?:opens|unlocks|disarms|offnet|oeffnet|entsperrt|ouvre|deverrouille|abre)\s{1,2}(?:the|our|das|die|den|la|le|el)\b"
)
_KEY_SAFE = re.compile(
    r"(?<![a-z0-9-])(?:key ?(?:safe|box)|lock ?box|schlussel(?:safe|box|kasten|tresor)|boite a cles|caja de llaves)"
    r"(?:\s{0,2}[:=]|\s{1,2}(?:is|ist))?\s{1,3}(?P<value>\d{4,8}[#*]?)(?![\w:/-]|[.,]\d|\s\w)"
)
_ROOT = re.compile(
    rf"(?<![\w.@/-])root/(?P<value>(?!(?:{words.BESIDE_ROOT})\b)[a-z]{{5,20}})(?![\w/.-])(?!\s(?:certificate|ca|rights)\b)"
)
_WAYS = ((_OPENED, "an access code"), (_KEY_SAFE, "an access code"), (_ROOT, "a password"))


def find_alone(plain: Plain) -> Iterator[Place]:
    """Everything in a text that is said in one of these ways."""
    for pattern, what in _WAYS:
        for found in pattern.finditer(plain.lower):
            yield of_value(what, found.start(), found.end("value"), found.span("value"))
