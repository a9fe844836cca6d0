"""Names: what DNS, a directory and a desktop system allow.

A fault is a short word; each function returns those it finds, in the order of this table:

empty · long · label-long · label-empty · characters · hyphen · all-digits · address · single
"""

from __future__ import annotations

import string

from planner.engine.addresses import ipv4
from planner.record.choices import Choice

COMPUTER_LONGEST = 15  # Source: MS-NBTE §1.8 (the sixteenth byte tells the kind); RFC 1001 says 16
NETBIOS_LONGEST = 15  # Source: publisher's knowledge-base article 909264
DOMAIN_LONGEST = 64  # Source: publisher's knowledge-base article 909264
PART_LONGEST = 64  # of an organisational unit. Source: publisher's knowledge-base article 909264
LABEL_LONGEST = 63  # Source: RFC 1035 §2.3.4
NAME_LONGEST = 253  # as text: RFC 1035 §2.3.4 allows 255 octets on the wire, two more than in print


class NameFault(Choice):
    """What is wrong with a name, in the order in which it is told."""

    EMPTY = "empty", "it is empty"
    LONG = "long", f"it is longer than {NAME_LONGEST} characters"
    LABEL_LONG = "label-long", f"one of its parts is longer than {LABEL_LONGEST} characters"
    LABEL_EMPTY = "label-empty", "one of its parts is empty"
    CHARACTERS = (
        "characters",
        "it holds something other than letters a to z, digits, hyphens and dots",
    )
    HYPHEN = "hyphen", "one of its parts begins or ends with a hyphen"
    ALL_DIGITS = "all-digits", "its last part is all digits"
    ADDRESS = "address", "it is an address, not a name"
    SINGLE = "single", "it has one part only"


_LETTERS = frozenset(string.ascii_letters + string.digits + "-")


def label_faults(label: str) -> tuple[NameFault, ...]:
    """Faults of one part of a host's name. Source: RFC 1123 §2.1, RFC 952, RFC 1035 §2.3.4."""
    if not label:
        return (NameFault.LABEL_EMPTY,)
    faults = []
    if len(label) > LABEL_LONGEST:
        faults.append(NameFault.LABEL_LONG)
    if not _LETTERS.issuperset(label):
        faults.append(NameFault.CHARACTERS)
    if label[0] == "-" or label[-1] == "-":
        faults.append(NameFault.HYPHEN)
    return tuple(faults)


def host_name_faults(name: str) -> tuple[NameFault, ...]:
    """Faults of a host's name of one or more labels; a dot at the end is allowed.

    An underscore is a fault: other records may have it, a host's name may not (RFC 1123 §2.1). A
    name whose last label is all digits reads as an address (RFC 1123 §2.1). Names with other letters
    are written in their ASCII form (RFC 5890).
    """
    text = name.removesuffix(".")
    if not text:
        return (NameFault.EMPTY,)
    if ipv4.parse(text) is not None:
        return (NameFault.ADDRESS,)
    found = {fault for label in text.split(".") for fault in label_faults(label)}
    if len(text) > NAME_LONGEST:
        found.add(NameFault.LONG)
    if _digits(text.rpartition(".")[2]):
        found.add(NameFault.ALL_DIGITS)
    return _ordered(found)


def computer_name_faults(name: str) -> tuple[NameFault, ...]:
    """Faults of a desktop's computer name.

    At most 15 characters, letters, digits and hyphen, no hyphen at an end, not all digits (a directory
    refuses that, though RFC 1123 allows it). Source: MS-NBTE §1.8; RFC 1123 §2.1; publisher's article 909264.
    """
    if not name:
        return (NameFault.EMPTY,)
    found = set(label_faults(name)) - {NameFault.LABEL_LONG}
    if len(name) > COMPUTER_LONGEST:
        found.add(NameFault.LONG)
    if _digits(name):
        found.add(NameFault.ALL_DIGITS)
    return _ordered(found)


def domain_faults(name: str) -> tuple[NameFault, ...]:
    """Faults of a directory's DNS domain name: a host's name of two labels or more, at most 64 characters."""
    found = set(host_name_faults(name))
    text = name.removesuffix(".")
    if len(text) > DOMAIN_LONGEST:
        found.add(NameFault.LONG)
    if text and "." not in text:
        found.add(NameFault.SINGLE)
    return _ordered(found)


def netbios_faults(name: str) -> tuple[NameFault, ...]:
    """Faults of a short domain name: 1 to 15 letters, digits and hyphens, without a dot.

    The publisher allows a few signs more; names with them break elsewhere, so they count as a fault.
    """
    if not name:
        return (NameFault.EMPTY,)
    found = set()
    if len(name) > NETBIOS_LONGEST:
        found.add(NameFault.LONG)
    if not _LETTERS.issuperset(name):
        found.add(NameFault.CHARACTERS)
    return _ordered(found)


def _digits(text: str) -> bool:
    return text.isascii() and text.isdigit()


def _ordered(faults: set[NameFault]) -> tuple[NameFault, ...]:
    return tuple(fault for fault in NameFault if fault in faults)
