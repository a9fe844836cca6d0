"""Secrets that somebody says: a word for one, something between, and the value.

Only a bounded stretch behind (or before) each word is looked at, so that time goes with the length of the text.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence

from planner.secrets_typed import values, words
from planner.secrets_typed.plain import Place, Plain
from planner.secrets_typed.values import Look
from planner.secrets_typed.words import CUES, Cue

MOST_CUES = (
    20_000  # words for secrets that are looked at in one text; shapes are looked for everywhere
)
REACH = 160  # letters behind a word in which its value must begin
AHEAD = 60  # letters before a word in which what it is of may stand
WIRELESS_LEAST = 8  # letters of the passphrase of a wireless network (IEEE 802.11)
_BACK = 120
Judge = Callable[[Plain, Cue, int, tuple[int, int]], bool]


def of_value(what: str, start: int, end: int, value: tuple[int, int]) -> Place:
    """A place of which the first letters of the value may be shown."""
    if value[1] - value[0] > 3:
        shown = 2
    else:
        shown = 1
    return Place(what, start, end, (value[0] + shown, value[1]))


_SPACED = re.compile(r"(?<![^\W_])(?:[a-z] ){3,30}[a-z](?![^\W_])")
_BY_STEM: dict[str, list[Cue]] = {}
for _cue in CUES:
    for _stem in _cue.stems:
        _BY_STEM.setdefault(_stem, []).append(_cue)

_APART = tuple(" ".join(stem[:4]) for stem in _BY_STEM if len(stem) > 2)

_SIGN = r"(?:\s{0,4}(?:[=-]>|→|:=|[:=—])|\s{1,3}-(?=\s)|(?<=>))[\s>]{0,6}"
_IS = (
    rf"\s{{1,4}}(?:(?:{words.IS})\b(?:\s{{1,3}}(?:{words.STILL})\b){{0,3}}(?:\s{{1,3}}(?:{words.TO})\b)?"
    rf"|(?:{words.CHANGED_TO})\b)\s{{0,3}}[:=]?\s{{1,4}}"
)
_LINK = re.compile(f"(?P<sign>{_SIGN})|(?P<is>{_IS})")
_CLOSED = re.compile(r"[\"'`*_)\]>]{0,3}")
# What the secret is of, told between its word and the value: *password for the switch is …*, *PIN (alarm panel): …*
_OF = re.compile(
    rf"(?:\s{{0,3}}\([^()\n]{{1,40}}\)|\s{{1,3}}(?:(?:{words.BEFORE_NAMES})\b|d'))"
    rf"(?:[^\n,;:=→—.!?]|\.(?=\w)){{0,50}}?(?:(?P<sign>{_SIGN})|(?P<is>{_IS}))"
)
_TO = re.compile(rf"\s{{1,3}}(?:{words.TO}|a)\s{{1,3}}")
_LATER = re.compile(
    r"[^.;:=\n]{1,60}?[,(]?\s"
    r"(?:it's|it is|now|currently|c'est|maintenant|jetzt|derzeit|es ist|ahora)\s{1,3}[:=]?\s{0,3}"
)
# *Password is still the old one, hunter2*: the last word of the sentence, and no number of a ticket
_APPENDED = re.compile(
    r"[^.;:=\n]{1,60}?,\s{1,2}(?![a-z]{2,6}-\d{1,8}\b)(?=[^\s,;]{5,64}(?:[.;!]?\s{0,2}$|[.;!]\s|\n))"
)
_OF_NUMBER = re.compile(
    rf"\s{{1,3}}(?:{words.BEFORE_NAMES})\b[^\n,;:=→—.!?\d]{{1,50}}?\s(?=\d{{4,10}}[#*]?(?:[.,;)\s]{{0,3}}$|[.,;)\n]))"
)
_BESIDE = re.compile(rf"(?:\s{{1,3}}(?:{words.BESIDE})\b){{1,3}}")
_OPENS = re.compile(r"(?:[-*•]\s{1,4})?(?P<quote>[\"'`]?)")
_QUOTED = re.compile(r"[^\"'`\n]{3,80}(?=[\"'`])")
_TOKEN = re.compile(r"\S{1,80}")
_NUMBER = re.compile(r"\d(?:[ .-]?\d){1,60}[#*]?")
_GOES_ON = re.compile(r"[ \t]{1,3}[^\W\d_]")
_CLAUSE_ENDS = re.compile(
    r"[\"'`)\]*_]{0,3}\s{0,3}(?:[.,;!?)\n(]|$|-\s|—|and\b|und\b|et\b|y\b|but\b|aber\b|mais\b|pero\b)",
    re.I,
)
_WHO = re.compile(
    r"(?<![a-z])(?:who|whoever|whom|where|wer|wo|qui|ou|quien|donde)\b[^.;:\n]{0,40}\Z"
)
# Of what kind a thing is: "the key is a secret: carry it by hand"
_A_KIND = re.compile(r"\b(?:a|an|no|ein|kein|un|une|una)\s\Z")
_PEOPLE = re.compile(r"[A-Z][a-z]{1,30}(?: (?:or|and|und|oder|et|ou|y|o) [A-Z][a-z]{1,30}){1,5}")
_BACKWARDS = re.compile(
    rf"(?<!\S)(?P<value>\S{{4,64}})\s{{1,3}}(?:(?i:is|was|ist|war|est|es)\s{{1,3}}(?i:{words.THE})|"
    rf"(?i:as|als|comme|como)(?:\s{{1,3}}(?i:{words.THE}))?)\s{{1,3}}"
    r"(?:[\w-]{1,24}\s{1,3}){0,2}[\w-]{0,24}\Z"
)
_MAY_BE_BACKWARDS = re.compile(rf"\b(?:{words.THE}|as|als|comme|como)\s")
_NO_PASSWORD = re.compile(
    r"\s{1,3}(?:manager|server|vault|store|safe|polic|list|file|page|prompt|field|verwaltung)"
)


def find_said(plain: Plain) -> Iterator[Place]:
    """Everything in a text that looks as if somebody said a secret."""
    for cue, start, end in _cues(plain.lower):
        found = _behind(plain, cue, start, end) or _before(plain, cue, start, end)
        if found:
            yield found
    yield from _pairs(plain)


def _cues(lower: str) -> list[tuple[Cue, int, int]]:
    """Every word for a secret and where it stands, one a place."""
    met = [one for stem, cues in _BY_STEM.items() for one in _of_stem(lower, stem, cues)]
    if any(spaced in lower for spaced in _APART):
        met += [one for spaced in _SPACED.finditer(lower) for one in _apart(spaced)]
    kept: list[tuple[Cue, int, int]] = []
    for one in sorted(met, key=lambda found: (found[1], -found[2])):
        if not kept or one[1] >= kept[-1][2]:
            kept.append(one)
    return kept[:MOST_CUES]


def _of_stem(lower: str, stem: str, cues: Sequence[Cue]) -> Iterator[tuple[Cue, int, int]]:
    at = -1
    for _ in range(MOST_CUES):
        at = lower.find(stem, at + 1)
        if at < 0:
            return
        for cue in cues:
            found = cue.pattern.match(lower, at)
            if found and (place := _beside_its_words(lower, cue, found)):
                yield cue, *place
                break


def _beside_its_words(lower: str, cue: Cue, found: re.Match[str]) -> tuple[int, int] | None:
    """Where the word begins and ends with what must stand before or behind it; ``None`` where neither does."""
    if cue.before is None and cue.behind is None:
        return found.span()
    begins = max(0, found.start() - AHEAD)
    if cue.before:
        ahead = cue.before.search(lower, begins, found.start())
    else:
        ahead = None
    if cue.behind:
        after = cue.behind.match(lower, found.end())
    else:
        after = None
    if ahead is None and after is None:
        return None
    if ahead:
        start = ahead.start()
    else:
        start = found.start()
    return start, (after.end() if after else found.end())


def _apart(spaced: re.Match[str]) -> Iterator[tuple[Cue, int, int]]:
    """A word that was written with a blank between its letters."""
    word = spaced[0].replace(" ", "")
    for cue in CUES:
        if cue.before is None and cue.behind is None and cue.pattern.fullmatch(word):
            yield cue, spaced.start(), spaced.end()


# -- the value stands behind -----------------------------------------------------------------------


def _behind(plain: Plain, cue: Cue, start: int, end: int) -> Place | None:
    """The value of a cue, by what stands between the two."""
    lower, reach = plain.lower, min(len(plain.lower), end + REACH)
    closed = _CLOSED.match(lower, end, reach)
    if closed:
        end = closed.end()
    else:
        end = end
    beside = _BESIDE.match(lower, end, reach)
    for at in (end, beside.end()) if beside else (end,):
        link = _LINK.match(lower, at, reach) or (_OF.match(lower, at, reach) if at == end else None)
        if link:
            if link["sign"] is not None:
                return _judged(plain, cue, start, link.end(), _after_sign)
            found = _judged(plain, cue, start, link.end(), _after_is)
            return found or _appended(plain, cue, start, end)
        if _blank(lower, at):
            found = _judged(plain, cue, start, at + 1, _right_beside)
        else:
            found = None
        if found:
            return found
    if cue.whole:
        return None
    return _further(plain, cue, start, end)


def _further(plain: Plain, cue: Cue, start: int, end: int) -> Place | None:
    """The value of a cue from which other words part it: *set the password to …*, *it was changed, now it is …*."""
    reach = min(len(plain.lower), end + REACH)
    for between in (_TO, _LATER):
        found = _beyond(plain, cue, start, between.match(plain.lower, end, reach))
        if found:
            return found
    found = _appended(plain, cue, start, end)
    if found:
        return found
    if cue.digits:
        link = _OF_NUMBER.match(plain.lower, end, reach)
    else:
        link = None
    if link:
        return _judged(plain, cue, start, link.end(), _right_beside)
    return None


def _appended(plain: Plain, cue: Cue, start: int, end: int) -> Place | None:
    """The value at the end of what is said of it: *is still the old one, hunter2*."""
    if plain.lower.find(",", end, end + AHEAD) < 0:
        return None
    reach = min(len(plain.lower), end + REACH)
    return _beyond(plain, cue, start, _APPENDED.match(plain.lower, end, reach))


def _beyond(plain: Plain, cue: Cue, start: int, between: re.Match[str] | None) -> Place | None:
    if between is None:
        return None
    return _judged(plain, cue, start, between.end(), _plainly_one)


def _judged(plain: Plain, cue: Cue, start: int, at: int, judge: Judge) -> Place | None:
    if judge is _after_sign and not (cue.weak or cue.whole):
        phrase = values.phrase_at(plain.text, _first_letter(plain.text, at))
        if phrase:
            return of_value(cue.what, start, phrase[1], phrase)
    value = _value_at(plain.text, at)
    if value is None or not judge(plain, cue, start, value):
        return None
    return of_value(cue.what, start, value[1], value)


def _first_letter(text: str, at: int) -> int:
    while _blank(text, at) or text[at : at + 1] in ('"', "'", "`"):
        at += 1
    return at


def _blank(text: str, at: int) -> bool:
    return at < len(text) and text[at].isspace()


def _value_at(text: str, at: int) -> tuple[int, int] | None:
    """Where the value begins and ends: what is in quotation marks, a number with its gaps, or one word."""
    while _blank(text, at):
        at += 1
    opens = _OPENS.match(text, at)
    if opens:
        begin = opens.end()
    else:
        begin = at
    if opens and opens["quote"]:
        inside = _QUOTED.match(text, begin)
    else:
        inside = None
    if inside:
        return inside.span()
    number = _NUMBER.match(text, begin)
    if number and not _joined(text, number.end()):
        return number.span()
    found = _TOKEN.match(text, begin)
    if found:
        return found.span()
    return None


def _joined(text: str, at: int) -> bool:
    """Whether a number goes on as a word: *14th*, *4711B*, *2580/tcp*."""
    return at < len(text) and not text[at].isspace() and text[at] not in ",;.)!?\"'`"


def _after_sign(plain: Plain, cue: Cue, start: int, value: tuple[int, int]) -> bool:
    text = plain.text[value[0] : value[1]]
    look = values.look_of(text)
    if cue.whole:
        return _wireless(plain, value)
    if cue.several and " " not in text and look is not Look.NUMBER:
        return not values.says_where(text, phrase=True)
    if look is Look.NUMBER:
        return _number(plain, cue, value, least=4)
    if look is Look.WORD:
        if cue.weak or _A_KIND.search(plain.lower, max(0, start - 6), start):
            return False
        if _PEOPLE.match(plain.text, value[0]) and not _quoted(plain.text, value):
            return False
        return not _WHO.search(plain.lower, max(0, start - 60), start)
    return look is Look.MIXED


def _after_is(plain: Plain, cue: Cue, start: int, value: tuple[int, int]) -> bool:
    text = plain.text[value[0] : value[1]]
    look = values.look_of(text)
    if look is Look.NUMBER:
        return _number(plain, cue, value, least=4)
    if look is not Look.WORD:
        return look is Look.MIXED
    if cue.weak or cue.whole:
        return False
    if _quoted(plain.text, value):
        return not values.says_where(text)
    ends = values.bare(text) != text.rstrip("\"'`)") or _CLAUSE_ENDS.match(plain.text, value[1])
    return bool(ends) and not values.tells_of_it(text)


def _right_beside(plain: Plain, cue: Cue, start: int, value: tuple[int, int]) -> bool:
    """Nothing but a blank stands between: only what cannot be a word is a value."""
    text = plain.text[value[0] : value[1]]
    quoted = _quoted(plain.text, value)
    if cue.whole:
        return plain.text[max(0, value[0] - 4) : value[0]].strip()[-1:] == "/" and _wireless(
            plain, value
        )
    if text.isalpha() and not quoted:
        return False
    look = values.look_of(text)
    if look is Look.NUMBER:
        return not cue.weak and _number(plain, cue, value, least=5)
    if quoted:
        return look in (Look.WORD, Look.MIXED) and not cue.weak
    if look is not Look.MIXED:
        return False
    return not values.host_like(text) or bool(_CLAUSE_ENDS.match(plain.text, value[1]))


def _plainly_one(plain: Plain, cue: Cue, start: int, value: tuple[int, int]) -> bool:
    """It can hardly be anything else, though words part it from the word for a secret."""
    text = plain.text[value[0] : value[1]]
    return values.look_of(text) is Look.MIXED and not values.host_like(text) and not cue.whole


def _wireless(plain: Plain, value: tuple[int, int]) -> bool:
    """Whether it may be what opens a wireless network, which is never short."""
    text = plain.text[value[0] : value[1]]
    long = len(values.bare(text)) >= WIRELESS_LEAST and not values.host_like(text)
    return (
        long
        and values.look_of(text) is Look.MIXED
        and bool(_CLAUSE_ENDS.match(plain.text, value[1]))
    )


def _quoted(text: str, value: tuple[int, int]) -> bool:
    return (
        value[0] > 0
        and text[value[0] - 1] in "\"'`"
        and text[value[1] : value[1] + 1] in ('"', "'", "`")
    )


def _number(plain: Plain, cue: Cue, value: tuple[int, int], least: int) -> bool:
    """Whether a number is one that opens something, not one of things: *PIN 4711*, but *14 characters*."""
    text = plain.text[value[0] : value[1]]
    count = sum(letter.isdigit() for letter in text)
    goes_on = _GOES_ON.match(plain.text, value[1])
    if cue.digits:
        several = plain.text[value[0] - 1 : value[0]] and goes_on and count < 4
        return count >= 3 and not several and not (goes_on and " " in text and count < 6)
    return count >= least and not goes_on and not cue.weak


# -- the value stands before: hunter2 is the password ------------------------------------------------


def _before(plain: Plain, cue: Cue, start: int, end: int) -> Place | None:
    back = max(0, start - _BACK)
    if not _MAY_BE_BACKWARDS.search(plain.lower, back, start):
        return None
    found = _BACKWARDS.search(plain.text, back, start)
    if found is None or _NO_PASSWORD.match(plain.lower, end):
        return None
    text = found["value"]
    number = cue.digits and values.look_of(text) is Look.NUMBER
    if not number and (values.look_of(text) is not Look.MIXED or values.host_like(text)):
        return None
    return of_value(cue.what, found.start("value"), end, found.span("value"))


# -- an account and its password: admin / hunter2 ------------------------------------------------------

_PAIR = re.compile(
    r"\s{0,3}(?:(?:lautet|lauten|is|are|sind|ist|sont|est|son|es)\b|[:=→]|->)?\s{0,3}[\"'`]?(?P<name>[\w.@\\-]{1,40})[\"'`]?"
    r"\s{0,2}(?P<sign>[/|:,])\s{0,2}[\"'`]?(?P<value>[^\s,;\"'`/\\][^\s,;\"'`]{2,63})"
)
_PAIR_WITH = re.compile(
    r"\s{1,3}(?P<name>[\w.@\\-]{1,40})[\"'`]?\s{0,2}(?P<sign>,|/|:|and|und|et|y|with|mit|avec|con)"
    r"\s{0,2}[\"'`]?(?P<value>[^\s\"'`]{4,64})"
)


_OWNED = re.compile(
    rf"(?i:(?<![a-z0-9.@-])(?:{words.OWNERS}))(?:\s{{0,2}}/\s{{0,2}}|:)(?P<value>[^\s,;\"'`/\\][^\s,;\"'`/]{{3,63}})(?![\w/])"
)


def _pairs(plain: Plain) -> Iterator[Place]:
    if any(owner in plain.lower for owner in words.OWNERS.split("|")):
        yield from _owned(plain)
    for cue, pair in ((words.SIGN_IN, _PAIR), (words.SIGN_IN_WITH, _PAIR_WITH)):
        for stem in cue.stems:
            for _, start, end in _of_stem(plain.lower, stem, [cue]):
                beside = pair.match(plain.text, end, min(len(plain.text), end + REACH))
                if beside and _is_pair(beside, anywhere=pair is _PAIR):
                    yield of_value(cue.what, start, beside.end("value"), beside.span("value"))


def _owned(plain: Plain) -> Iterator[Place]:
    """*root:…*: an account that has one password, and that."""
    for found in _OWNED.finditer(plain.text):
        value = found["value"]
        if values.look_of(value) is Look.MIXED and not values.host_like(value):
            yield of_value("a password", found.start(), found.end(), found.span("value"))


def _is_pair(found: re.Match[str], anywhere: bool) -> bool:
    """Whether a name and what stands beside it are an account and its password."""
    name, value = found["name"].lower(), values.bare(found["value"]).lower()
    look = values.look_of(found["value"])
    if found["sign"] == "," and (name not in words.ACCOUNTS or look is not Look.MIXED):
        return False
    if look is Look.MIXED:
        return not values.host_like(value)
    another = value in words.ACCOUNTS and value != name  # "admin/operator" names two of them
    return anywhere and look is Look.WORD and name in words.ACCOUNTS and not another
