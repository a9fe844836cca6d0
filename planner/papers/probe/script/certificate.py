"""Certificate: the names and dates of the certificate that answers, and whether this machine trusts who issued it.

Source: RFC 9525, sections 6.3 and 6.4 (which names count, wildcards, addresses); RFC 5280, section 4.1 and 4.2.1.6
(the certificate's parts, subject alternative names), in DER, ITU-T X.690.
"""

from __future__ import annotations

import calendar
import hashlib
import ipaddress
import socket
import ssl
import time

from planner.papers.probe.script.words import LATE, NoAnswer, why_of

SELF_SIGNED = 18  # OpenSSL's number for a certificate that nobody but itself vouches for
EXPIRED, NOT_YET = 10, 9


class Certificate:
    """What a certificate says: its names, its dates in seconds since 1970, and its SHA-256."""

    def __init__(self, names: list[str], begins: int, ends: int, digest: str) -> None:
        self.names = names
        self.begins = begins
        self.ends = ends
        self.digest = digest

    @property
    def last_day(self) -> str:
        return time.strftime("%Y-%m-%d", time.gmtime(self.ends))


def certificate_at(
    address: str, port: int, name: str, patience: float = 3.0
) -> tuple[Certificate, str, int]:
    """The certificate that answers for a name at an address, and why this machine does not trust it: ("", 0) if it
    does. Raises :class:`NoAnswer` when no TLS comes about."""
    trusting = ssl.create_default_context()
    trusting.check_hostname = (
        False  # names are judged by our own rule, so that all that is wrong can be told
    )
    # Newer Pythons ask for more than people's browsers do; the answer must not depend on who runs this.
    trusting.verify_flags &= ~(
        ssl.VERIFY_X509_STRICT | getattr(ssl, "VERIFY_X509_PARTIAL_CHAIN", 0)
    )
    try:
        return read_certificate(_met(trusting, address, port, name, patience)), "", 0
    except ssl.SSLCertVerificationError as error:
        why, number = error.verify_message, error.verify_code
    looking = ssl.create_default_context()
    looking.check_hostname = False
    looking.verify_mode = ssl.CERT_NONE
    return read_certificate(_met(looking, address, port, name, patience)), why, number


def _met(context: ssl.SSLContext, address: str, port: int, name: str, patience: float) -> bytes:
    """The certificate, in DER, from one handshake; nothing is sent after it."""
    try:
        with socket.create_connection((address, port), patience) as line:
            line.settimeout(patience)
            with context.wrap_socket(line, server_hostname=name) as met:
                octets = met.getpeercert(True)
    except ssl.SSLCertVerificationError:
        raise
    except ssl.SSLError as error:
        raise NoAnswer(
            f"no TLS comes about: {why_of(error.reason or error)}", refused=True
        ) from None
    except ConnectionRefusedError:
        raise NoAnswer("refused", refused=True) from None
    except (LATE, TimeoutError):
        raise NoAnswer(f"no answer in {patience:g} s", silent=True) from None
    except OSError as error:
        raise NoAnswer(why_of(error), silent=True) from None
    if octets is None:
        raise NoAnswer("TLS comes about without a certificate", refused=True)
    return octets


# -- DER -----------------------------------------------------------------------------------------


def der_parts(octets: bytes) -> list[tuple[int, bytes]]:
    """The values that stand one after the other, as (tag, content). Raises ``ValueError`` on broken ones."""
    found: list[tuple[int, bytes]] = []
    at = 0
    while at < len(octets):
        if at + 2 > len(octets):
            raise ValueError("the certificate cannot be read")
        tag, size = octets[at], octets[at + 1]
        at += 2
        if size & 0x80:
            more = size & 0x7F
            if not 0 < more < 5 or at + more > len(octets):
                raise ValueError("the certificate cannot be read")
            size = int.from_bytes(octets[at : at + more], "big")
            at += more
        if at + size > len(octets):
            raise ValueError("the certificate cannot be read")
        found.append((tag, octets[at : at + size]))
        at += size
    return found


def read_certificate(octets: bytes) -> Certificate:
    """A certificate's names and dates. Raises :class:`NoAnswer` for one that cannot be read."""
    try:
        signed = der_parts(der_parts(octets)[0][1])[0][1]
        parts = der_parts(signed)
        if parts[0][0] == 0xA0:  # the version, which the oldest form leaves out
            parts = parts[1:]
        begins, ends = (_moment(*part) for part in der_parts(parts[3][1])[:2])
        extensions = [content for tag, content in parts[6:] if tag == 0xA3]
        if extensions:
            names = _other_names(extensions[0])
        else:
            names = []
    except (ValueError, IndexError, OverflowError):
        raise NoAnswer("a certificate came that cannot be read", refused=True) from None
    return Certificate(names, begins, ends, hashlib.sha256(octets).hexdigest())


def _moment(tag: int, content: bytes) -> int:
    text = content.decode("ascii")
    if tag == 0x17:  # two digits of the year: 50 to 99 are of the last century
        text = ("19" if text[:2] >= "50" else "20") + text
    return calendar.timegm(time.strptime(text, "%Y%m%d%H%M%SZ"))


def _other_names(content: bytes) -> list[str]:
    for _, extension in der_parts(der_parts(content)[0][1]):
        parts = der_parts(extension)
        if parts[0] == (6, b"\x55\x1d\x11"):  # subject alternative name
            return [
                _other_name(tag, value)
                for tag, value in der_parts(der_parts(parts[-1][1])[0][1])
                if tag in (0x82, 0x87)
            ]
    return []


def _other_name(tag: int, value: bytes) -> str:
    if tag == 0x82:
        return value.decode("latin-1")
    return str(ipaddress.ip_address(value))


# -- names ---------------------------------------------------------------------------------------


def certificate_covers(pattern: str, name: str) -> bool:
    """Whether a certificate's name speaks for the one people type: a wildcard stands for one whole left-most label."""
    wanted_address, pattern_address = _as_address(name), _as_address(pattern)
    if wanted_address or pattern_address:
        return wanted_address == pattern_address
    wanted, given = _labels_of(name), _labels_of(pattern)
    if not wanted or len(wanted) != len(given) or "*" in "".join(wanted):
        return False
    if given[0] == "*" and len(given) > 2:
        wanted, given = wanted[1:], given[1:]
    return "*" not in "".join(given) and wanted == given


def _as_address(text: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        return ipaddress.ip_address(text.strip().strip("[]"))
    except ValueError:
        return None


def _labels_of(name: str) -> list[str]:
    name = name.strip()
    labels = (name[:-1] if name.endswith(".") else name).split(".")
    found = [_as_ascii(label) for label in labels]
    if all(found) and len(".".join(found)) < 254:
        return found
    return []


def _as_ascii(label: str) -> str:
    if not label.isascii():
        try:
            label = label.encode("idna").decode("ascii")
        except UnicodeError:
            return ""
    fits = len(label) < 64 and all(letter.isalnum() or letter in "-_*" for letter in label)
    if fits:
        return label.lower()
    return ""
