"""Secrets that are told by their shape alone, whatever is said around them.

Every repetition is bounded, and what may begin anywhere begins at a boundary: looking through a text takes time in
proportion to its length. Token shapes are those that their issuers publish so that they can be found.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from planner.secrets_typed.plain import Place, Plain


@dataclass(frozen=True)
class Shape:
    """``sign`` is a word without which the shape cannot stand in a text, in small letters; ``shown`` is how many
    letters of it may be quoted; ``certain`` says that it can be nothing else."""

    what: str
    sign: tuple[str, ...]
    pattern: re.Pattern[str]
    certain: bool = True
    shown: int = 5


def _shape(what: str, sign: str, pattern: str, certain: bool = True, shown: int = 5) -> Shape:
    return Shape(what, tuple(sign.split("|")), re.compile(pattern), certain, shown)


_EDGE = r"(?<![A-Za-z0-9_-])"
SHAPES = (
    _shape(
        "a private key", "private key", r"(?i:-{4,5} ?begin [a-z0-9 ]{0,40}private key)", shown=10
    ),
    _shape("a private key", "private-lines:", r"(?i:private-lines:\s{0,4}\d{1,4})", shown=13),
    _shape("an access token", "ghp_|gho_|ghu_|ghs_|ghr_", _EDGE + r"gh[pousr]_[A-Za-z0-9]{20,255}"),
    _shape("an access token", "github_pat_", _EDGE + r"github_pat_[A-Za-z0-9_]{20,255}"),
    _shape("an access token", "glpat-", _EDGE + r"glpat-[A-Za-z0-9_-]{16,255}"),
    _shape("an access token", "xox", _EDGE + r"xox[abeoprs]-[A-Za-z0-9-]{10,255}"),
    _shape("an access token", "_live_|_test_", _EDGE + r"[prs]k_(?:live|test)_[A-Za-z0-9]{16,255}"),
    _shape(
        "an access token", "npm_|hf_|dop_v1_", _EDGE + r"(?:npm_|hf_|dop_v1_)[A-Za-z0-9]{30,255}"
    ),
    _shape("an access token", "pypi-", _EDGE + r"pypi-[A-Za-z0-9_-]{50,512}"),
    _shape("an access token", "aiza", _EDGE + r"AIza[A-Za-z0-9_-]{35}"),
    _shape("an access token", "sk-", _EDGE + r"sk-(?:[a-z]{2,10}-){0,2}[A-Za-z0-9_]{32,255}"),
    _shape("an access token", "sg.", _EDGE + r"SG\.[A-Za-z0-9_-]{16,64}\.[A-Za-z0-9_-]{16,128}"),
    _shape(
        "the name of an access key",
        "akia|asia",
        _EDGE + r"A(?:KI|SI)A[A-Z0-9]{16}(?![A-Za-z0-9])",
        certain=False,
    ),
    # RFC 7519: three parts in base64url; the first is a JSON object, so it begins with {" as eyJ
    _shape(
        "a signed token",
        "eyj",
        _EDGE + r"eyJ[A-Za-z0-9_-]{8,2048}\.eyJ[A-Za-z0-9_-]{4,4096}"
        r"\.[A-Za-z0-9_-]{0,1024}",
    ),
    _shape(
        "a secret for one-time codes", "otpauth://", r"(?i:otpauth://[ht]otp/\S{1,300})", shown=10
    ),
    # RFC 7617 and RFC 6750
    _shape(
        "sign-in data",
        "basic|bearer",
        r"(?i:authorization[\"']?\s{0,3}[:=]\s{0,3}[\"']?(?:basic|bearer)\s{1,3}"
        r"[a-z0-9+/=._~-]{8,2048})",
        shown=13,
    ),
    _shape(
        "a password in an address",
        "://",
        r"(?i:(?<![a-z0-9+.-])[a-z][a-z0-9+.-]{1,20}://"
        r"[^\s/@:\"'<>]{1,80}:[^\s/@\"'<>]{1,120}@)",
        certain=False,
        shown=7,
    ),
    _shape(
        "the hash of a password",
        "$",
        r"\$(?:1|2[abxy]?|5|6|7|y|gy|apr1|argon2(?:id|i|d)|scrypt|pbkdf2-sha\d{1,3})"
        r"\$[./A-Za-z0-9$=,+-]{20,400}",
    ),
    _shape("the hash of a password", "sha}", r"(?i:\{s?sha\}[a-z0-9+/=]{20,200})", shown=6),
    _shape(
        "the hash of a password", ":", r"(?i:(?<![0-9a-f])[0-9a-f]{32}:[0-9a-f]{32}:::)", shown=2
    ),
    _shape(
        "the hash of a password",
        "hash",
        r"(?i:\b(?:ntlm|nt|lm)[ -]?hash\W{1,5}[0-9a-f]{32}\b)",
        shown=9,
    ),
    _shape("a recovery key", "-", r"(?<![\d-])(?:\d{6}-){7}\d{6}(?![\d-])", shown=2),
    _shape(
        "a licence key",
        "-",
        r"(?i:(?<![a-z0-9-])(?=[a-z0-9-]{0,28}[a-z])(?=[a-z-]{0,28}\d)"
        r"(?:[a-z0-9]{5}-){4}[a-z0-9]{5}(?![a-z0-9-]))",
        certain=False,
        shown=2,
    ),
    _shape(
        "a password on a command line",
        "/user:",
        r"(?i:/user:\S{1,80}\s{1,3}(?![/-])\S{3,80})",
        certain=False,
        shown=6,
    ),
    _shape(
        "a password on a command line",
        " -u",
        r"(?<!\S)-u\s{0,2}[^\s:/]{1,60}:[^\s:/]{3,80}(?!\S)",
        certain=False,
        shown=3,
    ),
    _shape(
        "a password on a command line",
        " -p",
        r"(?<!\S)-u\s{0,2}\S{1,40}\s{1,3}-p\S{3,80}",
        certain=False,
        shown=3,
    ),
    _shape(
        "an access code",
        "#|*",
        r"(?i:(?<![a-z])(?:alarm\w{0,8}|door|gate|safe|tur|tor|porte|portail|puerta)"
        r"\W{1,3}\d{3,8}[#*])",
        certain=False,
        shown=6,
    ),
    _shape(
        "a password on a command line",
        "sshpass",
        r"sshpass\s{1,3}-p\s{0,2}\S{3,80}",
        certain=False,
        shown=10,
    ),
    _shape(
        "an SNMP community",
        "community",
        r"(?i:\bcommunity\s{1,3}\S{3,64}\s{1,3}r[ow]\b)",
        certain=False,
        shown=10,
    ),
)


def find_shapes(plain: Plain) -> Iterator[Place]:
    """Every shape in a plain text."""
    for shape in SHAPES:
        if any(sign in plain.lower for sign in shape.sign):
            for found in shape.pattern.finditer(plain.text):
                start, end = found.span()
                yield Place(
                    shape.what, start, end, (min(end, start + shape.shown), end), shape.certain
                )
