"""Clock: asks a time server once, as a simple client.

Source: RFC 4330 (SNTP version 4), sections 4 (message) and 5 (client, its checks and formulas); RFC 5905,
figure 8, for the same header. A client must not ask one server more often than every 15 seconds (RFC 4330,
section 10), so each is asked once, and once more only when it said nothing.
"""

from __future__ import annotations

import socket
import struct
import time

from planner.papers.probe.script.words import LATE, NoAnswer, why_of

FROM_1900 = 2208988800  # seconds from 1900 to 1970
ERA = 2**32  # seconds after which the count begins again: 7 February 2036


class Clock:
    """A server's clock: ``offset`` is how many seconds it is ahead of ours, ``delay`` how long the way took."""

    def __init__(self, offset: float, delay: float, stratum: int) -> None:
        self.offset = offset
        self.delay = delay
        self.stratum = stratum


def to_stamp(seconds: float) -> bytes:
    """Seconds since 1970 as 64 bits: whole seconds since 1900, then the fraction."""
    whole, rest = divmod(seconds, 1)
    return struct.pack("!2I", (int(whole) + FROM_1900) % ERA, int(rest * ERA) % ERA)


def from_stamp(stamp: bytes) -> float:
    """Seconds since 1970. Source: RFC 4330, section 3: without its highest bit a stamp counts from 2036."""
    whole: int
    rest: int
    whole, rest = struct.unpack("!2I", stamp)
    if not whole & 0x80000000:
        whole += ERA
    return whole - FROM_1900 + rest / ERA


def read_clock(message: bytes, sent_stamp: bytes, sent: float, received: float) -> Clock:
    """The clock in a server's answer. Raises :class:`NoAnswer` for one that must not be used."""
    if len(message) < 48:
        raise NoAnswer("what came back is too short for an answer", refused=True)
    leap, version, mode = message[0] >> 6, message[0] >> 3 & 7, message[0] & 7
    stratum = message[1]
    if mode not in (4, 5) or not version or message[24:32] != sent_stamp:
        raise NoAnswer("what came back is no answer to this question", refused=True)
    if stratum == 0:
        word = message[12:16].decode("ascii", "replace").strip("\0")
        raise NoAnswer(f"the server asks not to be asked ({word})", refused=True)
    if leap == 3 or stratum > 15 or message[40:48] == bytes(8):
        raise NoAnswer("the server answers, but says that its own clock is not set", refused=True)
    came, went = from_stamp(message[32:40]), from_stamp(message[40:48])
    delay = (received - sent) - (went - came)
    offset = ((came - sent) + (went - received)) / 2
    return Clock(offset, max(0.0, delay), stratum)


def clock_ask(server: str, patience: float = 3.0, port: int = 123) -> Clock:
    """Asks one server for the time. Raises :class:`NoAnswer`."""
    try:
        for patient in (patience / 2, patience / 2):
            with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as line:
                line.settimeout(patient)
                line.connect((server, port))
                sent, began = time.time(), time.monotonic()
                stamp = to_stamp(sent)
                line.send(bytes([0x23]) + bytes(39) + stamp)
                try:
                    message = line.recv(1024)
                except LATE:
                    continue
                return read_clock(message, stamp, sent, sent + time.monotonic() - began)
    except ConnectionRefusedError:
        raise NoAnswer("nothing answers for time there (refused)", refused=True) from None
    except OSError as error:
        raise NoAnswer(why_of(error), silent=True) from None
    raise NoAnswer(f"no answer in {patience:g} s", silent=True)
