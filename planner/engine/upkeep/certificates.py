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
    return label.lower() if fits else ""
