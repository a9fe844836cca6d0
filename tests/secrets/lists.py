"""The lists of texts that hold a secret and of texts that hold none, as they stand beside this file."""

from __future__ import annotations

import pathlib
import re

HERE = pathlib.Path(__file__).parent
PART = "¦"  # stands where a scanner of repositories would see a leak; taken out when read
_ESCAPE = re.compile(r"\\(u[0-9a-f]{4}|.)")
_PLAIN = {"n": "\n", "t": "\t", "\\": "\\"}


def texts(name: str) -> list[str]:
    """The texts of one list, comments and empty lines left out."""
    lines = (HERE / f"{name}.txt").read_text(encoding="utf-8").splitlines()
    return [
        _unescaped(line.replace(PART, "")) for line in lines if line and not line.startswith("#")
    ]


def _unescaped(line: str) -> str:
    return _ESCAPE.sub(_letter, line)


def _letter(found: re.Match) -> str:
    sign = found[1]
    return chr(int(sign[1:], 16)) if sign.startswith("u") else _PLAIN[sign]
