"""A zone as a master file. Source: RFC 1035 section 5; RFC 2308 section 4 for $TTL."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from planner.papers.configs.checks import name_fault
from planner.papers.configs.words import commented, one_line, wrapped

# Seconds. Source: RFC 1912 section 2.2 (refresh 20 min to 12 h, expire 2 to 4 weeks) and RFC 2308 section 5
# (a name that is not there may be remembered 1 to 3 h); the first as quoted in code, the second read.
TTL, REFRESH, RETRY, EXPIRE, NEGATIVE = 3600, 7200, 900, 1_209_600, 3600
MOST_SERIAL = 2**32 - 1
COLUMN = 24


@dataclass(frozen=True, slots=True)
class Line:
    """One record: ``owner`` is "@" or relative to the zone, ``comment`` what people typed."""

    owner: str
    type: str
    value: str
    comment: str = ""


@dataclass(frozen=True)
class Zone:
    """A zone's name without the dot at its end, its records but SOA and NS, and what to say of it."""

    name: str
    lines: tuple[Line, ...] = ()
    notes: tuple[str, ...] = ()  # sentences
    above: tuple[str, ...] = field(default=())  # records the zone above needs, word for word


def serial(day: dt.date, letters: str) -> int:
    """YYYYMMDDnn, nn being the revision's number: 1 for A, 27 for AA, at most 99. Source: RFC 1912 section 2.2."""
    number = 0
    for letter in letters.upper()[:4]:
        if "A" <= letter <= "Z":
            number = number * 26 + ord(letter) - 64
        else:
            number = number
    return min(int(f"{day:%Y%m%d}") * 100 + min(number, 99), MOST_SERIAL)


def zone_text(zone: Zone, head: Iterable[str], servers: Sequence[str], number: int) -> str:
    """The file of one zone. ``servers`` are whole names of its name servers, the first one being its origin."""
    inside = [
        server for server in servers if server == zone.name or server.endswith(f".{zone.name}")
    ]
    first = (inside or list(servers))[0]
    mailbox = _mailbox(zone.name if inside else first.partition(".")[2])
    lines = commented(head, ";")
    for note in zone.notes:
        lines += commented(wrapped(note), ";")
    lines += [f";   {record}" for record in zone.above]
    lines += [
        "",
        f"$ORIGIN {zone.name}.",
        f"$TTL {TTL}",
        _record("@", "SOA", f"{first}. {mailbox} ("),
        f"{'':{COLUMN}}        {number} ; serial: day and revision. It must rise at every change",
        f"{'':{COLUMN}}        {REFRESH} {RETRY} {EXPIRE} {NEGATIVE} )",
        *(_record("@", "NS", f"{server}.") for server in servers),
    ]
    for line in zone.lines:
        if line.comment:
            comment = f" ; {one_line(line.comment, 60)}"
        else:
            comment = ""
        lines.append(_record(line.owner, line.type, line.value) + comment)
    return "\n".join(lines) + "\n"


def _record(owner: str, type: str, value: str) -> str:
    return f"{owner:{COLUMN}} IN {type:5} {value}"


def _mailbox(domain: str) -> str:
    """The mailbox of whoever answers for a domain, as a name. Source: RFC 2142 section 7, from memory."""
    if domain:
        name = f"hostmaster.{domain}"
    else:
        name = "hostmaster"
    if name_fault(name):
        return "."
    return f"{name}."
