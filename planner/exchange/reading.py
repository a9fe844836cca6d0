"""Document → facts: what somebody else's file says, as far as it can be taken.

Nothing in a file is believed. A value that is not what its field holds is left unknown, a reference to a
record that is not there is left unknown, a field that is not known here is left out; each is told. Only what
is no document at all, or is of a later version, refuses the whole.
"""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from collections import Counter
from dataclasses import dataclass
from typing import Any, NoReturn

from planner.exchange.parts import FORMAT, VERSION, Listing, Part, listings, parts_of
from planner.papers.sheets.table import MIB, Unreadable
from planner.record import facts as f

FILE_BYTES = 8 * MIB
BRACKETS = 100_000  # { and [ in a file: each costs memory far beyond its own byte
COMMAS = 500_000
DEPTH = 12
RECORDS = 5_000
SAYINGS = 5_000
LETTERS = 20_000
HEAD = ("format", "version", "made_on", "fingerprint", "customer", "customer_code")
_KEY = re.compile(r"([a-z]{1,20})-([0-9]{1,15})")
_SIGNS = re.compile(r'"(?:[^"\\]|\\.)*+"?|[\[\]{}]', re.DOTALL)
_NEITHER = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]"
)  # letters that no text has

Entry = dict[str, object]  # as JSON has it: nothing of it is believed


@dataclass(frozen=True)
class Brought:
    """What was read. ``unknown`` are fields that this version does not know; ``left_out`` are values that
    could not be taken, with the reason; ``fingerprint`` is the one the document gives itself."""

    facts: f.SiteFacts
    unknown: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    fingerprint: str = ""


def read_document(data: bytes, today: dt.date) -> Brought:
    """Facts of a document, as seen on a day. Raises :class:`Unreadable` when it is none that can be read here."""
    return _Reader(_checked(_parsed(data)), today).read()


def _parsed(data: bytes) -> object:
    if len(data) > FILE_BYTES:
        raise Unreadable(f"The file is larger than {FILE_BYTES // MIB} MiB. No site is.")
    if data.count(b"{") + data.count(b"[") > BRACKETS or data.count(b",") > COMMAS:
        raise Unreadable("The file has far more parts than a site. It was not read.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Unreadable(
            "This is no site: a site's file is JSON in UTF-8, as Deskwright writes it."
        ) from error
    if not text.lstrip().startswith("{"):
        raise Unreadable(
            "This is no site: a site's file is JSON in UTF-8, as Deskwright writes it."
        )
    if _depth(text) > DEPTH:
        raise Unreadable("The file is nested far deeper than a site. It was not read.")
    try:
        found: object = json.loads(text, parse_constant=_no_number)
        return found
    except (ValueError, RecursionError) as error:
        if isinstance(error, json.JSONDecodeError):
            where = f" (line {error.lineno})"
        else:
            where = ""
        raise Unreadable(
            f"The file is damaged: it is not whole JSON{where}. Take it from Deskwright again."
        ) from error


def _depth(text: str) -> int:
    """How deep brackets nest; those within texts do not count."""
    deepest = depth = 0
    for found in _SIGNS.finditer(text):
        if found[0] in ("{", "["):
            depth += 1
            deepest = max(deepest, depth)
        elif found[0] in ("}", "]"):
            depth -= 1
    return deepest


def _no_number(word: str) -> float:
    raise ValueError(word)


def _checked(found: object) -> Entry:
    if not isinstance(found, dict) or found.get("format") != FORMAT:
        raise Unreadable("This is JSON, but no site as Deskwright writes it.")
    version = found.get("version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise Unreadable("The file does not say which version of the format it is.")
    if version > VERSION:
        raise Unreadable(
            f"The file was written by a newer Deskwright: version {version} of the format; this one reads up to "
            f"{VERSION}. Bring this Deskwright up to date first."
        )
    return found


class _Reader:
    """Reads one document; gathers what could not be taken."""

    def __init__(self, document: Entry, today: dt.date):
        self.document, self.today = document, today
        self.unknown: Counter[str] = Counter()
        self.left_out: list[str] = []
        self.ids: dict[str, int] = {}  # of every key that some record bears
        self.highest: Counter[str] = Counter()  # the highest number of a key, by record kind

    def read(self) -> Brought:
        entries = {listing: self._entries(listing) for listing in listings()}
        if sum(len(found) for listing, found in entries.items() if listing.kind) > RECORDS:
            raise Unreadable(f"The file has more than {RECORDS} records. No site has.")
        if sum(len(found) for listing, found in entries.items() if not listing.kind) > SAYINGS:
            raise Unreadable(
                f"The file has more than {SAYINGS} answers and planning numbers. No site has."
            )
        keyed = {
            listing: [self._key(listing, one) for one in found]
            for listing, found in entries.items()
        }
        ids = {
            listing: [self._new(listing.kind) if one is None else one for one in found]
            for listing, found in keyed.items()
        }
        values: dict[str, Any] = {}
        for listing, found in entries.items():
            made = [self._entry(listing, one, ids[listing][at]) for at, one in enumerate(found)]
            kept = tuple(one for one in made if one is not None)
            values[listing.name] = (
                (kept[0] if kept else listing.entry()) if listing.single else kept
            )
        for name in set(self.document) - {listing.name for listing in entries} - set(HEAD):
            self.unknown[_short(name)] += 1
        facts = f.SiteFacts(
            today=self.today,
            customer=self._text("customer"),
            customer_code=self._text("customer_code"),
            **values,
        )
        told = tuple(
            f"{name} ({count} times)" if count > 1 else name
            for name, count in sorted(self.unknown.items())
        )
        return Brought(facts, told, tuple(self.left_out), self._text("fingerprint")[:20])

    def _text(self, name: str) -> str:
        value = self.document.get(name, "")
        if isinstance(value, str) and not _NEITHER.search(value):
            return value[:200]
        return ""

    def _entries(self, listing: Listing) -> list[Entry]:
        """The entries of a list as they stand; what is none is told."""
        found = self.document.get(listing.name)
        if found is None:
            return []
        if listing.single:
            found = [found]
        if not isinstance(found, list):
            self._leave(listing.name, "it is not a list")
            return []
        kept = [one for one in found if isinstance(one, dict)]
        if len(kept) < len(found):
            self._leave(listing.name, f"{len(found) - len(kept)} of its entries are none")
        return kept

    def _key(self, listing: Listing, entry: Entry) -> int | None:
        """The number of a record's key, or ``None`` when it bears none of its own."""
        if not listing.kind:
            return None
        key = entry.get("key")
        if isinstance(key, str):
            found = _KEY.fullmatch(key)
        else:
            found = None
        if found and found[1] == listing.kind and found[0] not in self.ids:
            id = self.ids[found[0]] = int(found[2])
            self.highest[listing.kind] = max(self.highest[listing.kind], id)
            return id
        if key is not None or not listing.single:
            self._leave(
                f"{_named(listing, entry)}: its key {_short(key)}",
                "it is none, or another has it already",
            )
        return None

    def _new(self, kind: str) -> int:
        self.highest[kind] += 1
        return self.highest[kind]

    def _entry(self, listing: Listing, entry: Entry, id: int) -> Any:
        """An entry of the facts, or ``None`` when it lacks what it cannot be without."""
        parts = {part.name: part for part in parts_of(listing.entry)}
        for name in set(entry) - set(parts) - ({"key"} if listing.kind else set()):
            self.unknown[f"{listing.name}: {_short(name)}"] += 1
        values: dict[str, Any] = {"id": id} if listing.kind else {}
        for name, part in parts.items():
            raw = entry.get(name)
            if raw is None or raw in ("", []):
                continue
            try:
                values[part.own] = self._value(part, raw)
            except (ValueError, OverflowError) as error:
                if part.field:
                    label = part.field.label
                else:
                    label = name
                self._leave(f"{_named(listing, entry)}: {label}", str(error))
        try:
            return listing.entry(**values)
        except TypeError:  # of what people said: a key, a value, a moment is missing
            self._leave(_named(listing, entry), "it is not whole")
            return None

    def _value(self, part: Part, raw: object) -> Any:
        if not part.several:
            return self._one(part, raw)
        if not isinstance(raw, list):
            raise ValueError(f"{_short(raw)} is not a list")
        if len(raw) > RECORDS:
            raise ValueError(f"it holds more than {RECORDS} values")
        return tuple(self._one(part, one) for one in raw)

    def _one(self, part: Part, raw: object) -> Any:
        """A value of the type its field has. Raises ``ValueError`` with the reason when it is not."""
        if part.to:
            return self._reference(part, raw)
        if part.plain in (dt.date, dt.time, dt.datetime):
            return _moment(part.plain, raw)
        if part.plain is bool:
            if isinstance(raw, bool):
                return raw
            return _refuse(raw, "yes or no")
        if part.plain in (int, float):
            return _number(part.plain, raw)
        if not isinstance(raw, str):
            return _refuse(raw, "a text")
        if len(raw) > LETTERS or _NEITHER.search(raw):
            raise ValueError(f"it is longer than {LETTERS} letters, or holds some that no text has")
        return raw

    def _reference(self, part: Part, raw: object) -> int:
        if isinstance(raw, str):
            found = _KEY.fullmatch(raw)
        else:
            found = None
        if not found or found[1] != part.to or raw not in self.ids:
            raise ValueError(f"{_short(raw)} is not a {f.KIND_WORDS[part.to]} of this file")
        return self.ids[raw]

    def _leave(self, what: str, why: str) -> None:
        if len(self.left_out) < SAYINGS:
            self.left_out.append(f"{what}: {why}")


def _moment(plain: Any, raw: object) -> dt.date | dt.time:
    word = {dt.date: "a date", dt.time: "a time of day", dt.datetime: "a moment with its zone"}[
        plain
    ]
    if not isinstance(raw, str) or len(raw) > 40:
        return _refuse(raw, word)
    try:
        value: dt.date | dt.time = plain.fromisoformat(raw)
    except ValueError:
        return _refuse(raw, word)
    if isinstance(value, dt.datetime) != (getattr(value, "tzinfo", None) is not None):
        return _refuse(raw, word)
    return value


def _number(plain: type, raw: object) -> int | float:
    if (
        isinstance(raw, bool)
        or not isinstance(raw, int | float)
        or not math.isfinite(raw)
        or abs(raw) >= 2**63
    ):
        return _refuse(raw, "a number")
    if plain is int and raw != int(raw):
        return _refuse(raw, "a whole number")
    if plain is int:
        return int(raw)
    return float(raw)


def _refuse(raw: object, wanted: str) -> NoReturn:
    raise ValueError(f"{_short(raw)} is not {wanted}")


def _short(raw: object) -> str:
    """A value as it may stand in a sentence."""
    if isinstance(raw, str):
        text = raw
    else:
        text = json.dumps(raw, ensure_ascii=True)[:80]
    text = _NEITHER.sub("�", text)
    if len(text) > 60:
        return f"“{text[:60]}…”"
    return f"“{text}”"


def _named(listing: Listing, entry: Entry) -> str:
    """An entry as a person knows it: hosts, “mill-h1”."""
    for name in ("name", "key", "check", "finding", "target"):
        value = entry.get(name)
        if isinstance(value, str) and value:
            return f"{listing.name}, {_short(value)}"
    return listing.name
