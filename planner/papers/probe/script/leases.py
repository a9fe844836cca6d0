"""Leases: asks a network for a DHCP offer, and takes none.

A DISCOVER alone reserves nothing for good: a server keeps what it offered for a moment and forgets it when no
REQUEST follows, and none is ever sent from here. Source: RFC 2131, sections 2 (message), 3.1 (steps 1 and 2) and
4.1 (ports, broadcast); RFC 2132, sections 3.3, 3.5, 3.8, 9.2, 9.6, 9.7 (options).
"""

from __future__ import annotations

import os
import socket
import struct
import time
import uuid

from planner.papers.probe.script.words import LATE

COOKIE = b"\x63\x82\x53\x63"
SO_BINDTODEVICE = 25  # on Linux


class Offer:
    """What a server offered; texts are "" and numbers None where it did not say."""

    def __init__(self, address: str, options: dict[int, bytes]) -> None:
        self.address = address
        self.server = _dotted(options.get(54, b""))
        self.mask = _dotted(options.get(1, b""))
        self.gateway = _dotted(options.get(3, b""))
        self.names = tuple(
            _dotted(options.get(6, b"")[at : at + 4])
            for at in range(0, len(options.get(6, b"")), 4)
        )
        seconds = options.get(51, b"")
        self.seconds: int | None = struct.unpack("!I", seconds)[0] if len(seconds) == 4 else None


def _dotted(octets: bytes) -> str:
    if len(octets) >= 4:
        return ".".join(str(octet) for octet in octets[:4])
    return ""


def discover_message(number: bytes, hardware: bytes) -> bytes:
    """A DISCOVER that asks for its answer by broadcast; ``hardware`` are six octets."""
    head = struct.pack("!4B4s2H", 1, 1, 6, 0, number, 0, 0x8000)
    options = bytes([53, 1, 1, 55, 5, 1, 3, 6, 51, 54, 255])
    message = head + bytes(16) + hardware.ljust(16, b"\0") + bytes(192) + COOKIE + options
    return message.ljust(300, b"\0")


def read_offer(message: bytes, number: bytes, hardware: bytes) -> Offer | None:
    """The offer in a message, or None for one that is not an answer to our question."""
    if (
        len(message) < 240
        or message[0] != 2
        or message[4:8] != number
        or message[236:240] != COOKIE
    ):
        return None
    if message[28:34] != hardware:
        return None
    options: dict[int, bytes] = {}
    at = 240
    while at < len(message) and message[at] != 255:
        if message[at] == 0:
            at += 1
            continue
        if at + 1 >= len(message):
            break
        size = message[at + 1]
        options[message[at]] = options.get(message[at], b"") + message[at + 2 : at + 2 + size]
        at += 2 + size
    if options.get(53) == b"\x02":
        return Offer(_dotted(message[16:20]), options)
    return None


def ask_for_offers(
    address: str,
    device: str = "",
    mac: str = "",
    patience: float = 6.0,
    ports: tuple[int, int] = (68, 67),
    to: str = "255.255.255.255",
) -> list[Offer]:
    """Every offer that comes within ``patience`` seconds. Raises ``OSError`` where the system forbids asking."""
    number = os.urandom(4)
    if mac:
        hardware = bytes.fromhex(mac.replace(":", ""))
    else:
        hardware = uuid.getnode().to_bytes(6, "big")
    found = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as line:
        line.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        line.setsockopt(socket.SOL_SOCKET, socket.SO_BROADCAST, 1)
        if device and _bind_to(line, device):
            bound = ""
        else:
            bound = address
        line.bind((bound if os.name == "nt" else "", ports[0]))
        line.sendto(discover_message(number, hardware), (to, ports[1]))
        until = time.monotonic() + patience
        while time.monotonic() < until:
            line.settimeout(max(0.01, until - time.monotonic()))
            try:
                message = line.recv(2048)
            except LATE:
                break
            offer = read_offer(message, number, hardware)
            if offer:
                found.append(offer)
    return found


def _bind_to(line: socket.socket, device: str) -> bool:
    try:
        line.setsockopt(socket.SOL_SOCKET, SO_BINDTODEVICE, device.encode() + b"\0")
    except OSError:
        return False
    return True
