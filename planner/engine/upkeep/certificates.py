"""Certificates: which of the names people type does a certificate speak for, and for how long."""

from __future__ import annotations

import datetime as dt
import ipaddress
from collections.abc import Iterable


def covers(pattern: str, name: str) -> bool:
    """Whether a name in a certificate speaks for ``name``, the name a person types.

    Names are compared label by label as case-insensitive ASCII, international labels in their
    A-label form. A wildcard is one ``*``, alone in the left-most label, and stands for exactly one
    label. An address is covered by the same address only, never by a wildcard.

    Stricter than the standard in one place, as it allows: a wildcard must be followed by at least
    two labels, because widely used TLS libraries refuse ``*.example``. A text that is no name
    covers nothing and is covered by nothing; nothing is ever raised.

    Source: RFC 9525 §6.3 (names, wildcards) and §6.4 (addresses); the two labels: OpenSSL,
    X509_check_host.
    """
    wanted_address, pattern_address = _address(name), _address(pattern)
    if wanted_address is not None or pattern_address is not None:
        return wanted_address == pattern_address
    wanted, given = _labels(name), _labels(pattern)
    if not wanted or len(wanted) != len(given) or "*" in "".join(wanted):
        return False
    if given[0] == "*" and len(given) > 2:
        wanted, given = wanted[1:], given[1:]
    return "*" not in "".join(given) and wanted == given


def covering(patterns: Iterable[str], name: str) -> str:
    """The first of a certificate's names that covers ``name``, or ""."""
    return next((pattern for pattern in patterns if covers(pattern, name)), "")


def days_beyond(expires: dt.date | None, day: dt.date | None) -> int | None:
    """Days a certificate outlasts ``day``; negative when it ends before; None when one is unknown."""
    if expires is None or day is None:
        return None
    return (expires - day).days


def _address(text: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        return ipaddress.ip_address(text.strip().strip("[]"))
    except ValueError:
        return None


def _labels(name: str) -> list[str]:
    """A name's labels in small ASCII letters; an empty list for a text that cannot be a DNS name."""
    labels = name.strip().removesuffix(".").split(".")
    found = [_ascii(label) for label in labels]
    if not all(found) or len(".".join(found)) > 253:
        return []
    return found


def _ascii(label: str) -> str:
    """A label as the DNS carries it (RFC 5890's A-label), or "" when it cannot be one (RFC 1035)."""
    if not label.isascii():
        try:
            label = label.encode("idna").decode("ascii")
        except UnicodeError:
            return ""
    fits = len(label) <= 63 and all(letter.isalnum() or letter in "-_*" for letter in label)
    if fits:
        return label.lower()
    return ""


# -- How long a public authority may issue ---------------------------------------------------------

# Source: CA/Browser Forum, Baseline Requirements 6.3.2, by ballot SC-081v3 of April 2025 (opened: two public accounts
# of the ballot, https://postquantum.com/security-pqc/sc081v3-47day-certificate and
# https://fixmycert.com/guides/47-day-certificate-timeline); 825 and 398 days from memory.
LONGEST = (
    (dt.date(2018, 3, 1), 825),
    (dt.date(2020, 9, 1), 398),
    (dt.date(2026, 3, 15), 200),
    (dt.date(2027, 3, 15), 100),
    (dt.date(2029, 3, 15), 47),
)


def longest_days(issued: dt.date) -> int | None:
    """Days that a certificate of a public authority issued on a day may hold; ``None`` before any bound."""
    return next((days for begins, days in reversed(LONGEST) if issued >= begins), None)


def latest_end(last: dt.date) -> dt.date | None:
    """The latest day on which any public certificate issued on ``last`` or earlier ends."""
    ends = []
    for number, (begins, days) in enumerate(LONGEST):
        if begins > last:
            break
        following = [next_begins for next_begins, _ in LONGEST[number + 1 :]]
        newest = min([last, *(next_begins - dt.timedelta(days=1) for next_begins in following[:1])])
        ends.append(newest + dt.timedelta(days=days))
    return max(ends, default=None)
