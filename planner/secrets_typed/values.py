"""What stands behind a word for a secret: whether it looks like one."""

from __future__ import annotations

import enum
import re

from planner.secrets_typed import words

_ROUND = "\"'`´([{<>)]}*_,;:.!?"  # what stands around a value and is no part of it
_SIGNS = frozenset("!$#%&*@?^~+|")
_HARMLESS = re.compile(
    r"""(?ix)
    \d{1,3}(?:\.\d{1,3}){3}(?:/\d{1,2}|:\d{1,5})?                # an IPv4 address
    | (?:[0-9a-f]{0,4}:){2,7}[0-9a-f]{0,4}(?:/\d{1,3}|%\w{1,15})?  # an IPv6 address, or a MAC address
    | [0-9a-f]{2}(?:-[0-9a-f]{2}){5} | [0-9a-f]{4}(?:\.[0-9a-f]{4}){2}
    | [0-9a-f]{8}-(?:[0-9a-f]{4}-){3}[0-9a-f]{12}                # a UUID (RFC 9562)
    | \d{4}-\d{1,2}-\d{1,2} | \d{1,2}\.\d{1,2}\.(?:\d{2,4})? | \d{1,2}/\d{1,2}/\d{2,4}  # a date
    | \d{1,2}[:h]\d{2}(?::\d{2})?                                # a time of day
    | v?\d{1,4}(?:\.\d{1,6}){1,4}[a-z]?                          # a version, a number
    | \d{1,5}(?:-\d{1,5})?/(?:tcp|udp)                           # a port
    | [a-z][a-z0-9+.-]{1,20}://\S*                               # an address of a page
    | (?:[a-z]:)?[/\\]\S*                                        # a place of files
    | [\w.+-]{1,64}@[\w-]{1,63}(?:\.[\w-]{1,63}){1,6}            # an e-mail address
    # a host
    | (?:[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?\.){1,6}
      (?:example|local|lan|test|internal|home|[a-z]{2,3}|info)/?
    # names of groups and methods, of rooms and racks
    | (?:ou|cn|dc|o|c)=\S* | gg-\S* | 802\.1x\w* | sha-?\d{1,3} | aes-?\d{1,3}(?:-[a-z]{3,4})? | tls\w*
    | [a-z]{2,4}\s?\d{1,2}
    """
)
_HOST_LIKE = re.compile(r"[a-z]+(?:-[a-z0-9]+){0,3}-[a-z]{0,4}\d{1,2}", re.I)
_LETTER, _DIGIT = re.compile(r"[^\W\d_]"), re.compile(r"\d")


class Look(enum.IntEnum):
    """How much a value looks like a secret."""

    NONE = 0  # it is a date, an address, a word that says where the secret is
    WORD = 1  # a word as any other
    NUMBER = 2
    MIXED = 3  # letters with digits or signs among them


def bare(token: str) -> str:
    """A value without the quotation marks and full stops around it."""
    return token.strip(_ROUND)


def look_of(token: str) -> Look:
    value = bare(token)
    if value.isalpha() and len(value) > 1:
        if says_where(value):
            return Look.NONE
        return Look.WORD
    if len(value) < 2 or _HARMLESS.fullmatch(value) or words.UNIT.fullmatch(value.lower()):
        return Look.NONE
    if not _LETTER.search(value):
        if _DIGIT.search(value):
            return Look.NUMBER
        return Look.NONE
    if len(value) >= 4 and (_DIGIT.search(value) or _SIGNS.intersection(value)):
        return Look.MIXED
    if says_where(value):
        return Look.NONE
    return Look.WORD


def says_where(value: str, phrase: bool = False) -> bool:
    """Whether a word tells of a secret instead of telling it: *kept*, *siehe*, *voir*."""
    whole = bare(value).lower()
    if phrase:
        known = words.BENIGN_BEFORE_PHRASE
    else:
        known = words.BENIGN
    return whole in known or re.split(r"[/'’-]", whole)[0] in known


_PHRASE = re.compile(r"[a-z]{3,12}(?: [a-z]{3,12}){3,7}(?=[ \t]{0,3}(?:[.!;\n\"'`)]|$))")
PHRASE_LEAST = 3  # of its words that nobody uses to tell where a secret is


def phrase_at(text: str, start: int) -> tuple[int, int] | None:
    """A passphrase of at least four plain words in small letters, which fills its line or sentence. Words that tell of
    a secret may be among them: of four and more at most one is such a word."""
    found = _PHRASE.match(text, start)
    if found is None:
        return None
    parts = found[0].split()
    telling = sum(word in words.BENIGN for word in parts)
    if telling > 1 or len(parts) - telling < PHRASE_LEAST:
        return None
    return found.span()


def tells_of_it(value: str) -> bool:
    """As :func:`says_where`, for the word behind *is*: *changed*, *geändert*, *Noor's*."""
    word = bare(value).lower()
    return (
        says_where(word)
        or len(word) < 4
        or word.endswith("'s")
        or bool(words.PARTICIPLE.match(word))
    )


def host_like(value: str) -> bool:
    """Whether it may be the name of a machine: *mill-h1*."""
    return bool(_HOST_LIKE.fullmatch(bare(value)))
