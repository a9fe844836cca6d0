"""Reach: whether a machine answers: TCP connect, ping, the neighbour table, and which way a packet would go."""

from __future__ import annotations

import os
import re
import shutil
import socket
import struct
import subprocess
import sys
import time

from planner.papers.probe.script.words import LATE, why_of

OPEN, REFUSED, SILENT, UNREACHABLE = "open", "refused", "silent", "unreachable"
COMMON_PORTS = (443, 22, 80, 445, 135, 3389)
PLACES = os.pathsep.join([os.environ.get("PATH", os.defpath), "/usr/sbin", "/sbin"])
MAC_WORDS = re.compile(
    r"(?<![0-9a-f:-])(?:[0-9a-f]{1,2}[:-]){5}[0-9a-f]{1,2}(?![0-9a-f:-])", re.IGNORECASE
)


def system_said(command: list[str], seconds: float = 5.0) -> tuple[str, bool | None]:
    """What a program of the system printed, and whether it was content; ("", None) where there is no such program."""
    found = shutil.which(command[0], path=PLACES)
    if not found:
        return "", None
    try:
        done = subprocess.run(  # noqa: S603  (fixed words and one address that was read as an address)
            [found, *command[1:]],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            timeout=seconds,
            check=False,
        )
    except (OSError, subprocess.SubprocessError):
        return "", None
    return done.stdout.decode("utf-8", "replace"), done.returncode == 0


def knock(address: str, port: int, patience: float = 3.0) -> tuple[str, str]:
    """Opens a TCP connection and closes it at once, sending nothing. One of four words, and what was seen."""
    began = time.monotonic()
    try:
        with socket.create_connection((address, port), patience):
            return OPEN, f"open after {1000 * (time.monotonic() - began):.0f} ms"
    except ConnectionRefusedError:
        return REFUSED, "refused"
    except (LATE, TimeoutError):
        return SILENT, f"no answer in {patience:g} s"
    except OSError as error:
        return UNREACHABLE, why_of(error)


def ping(address: str, patience: float = 2.0) -> bool | None:
    """True when a machine answered a ping, False when not, None when this machine cannot ping."""
    own = _own_ping(address, patience)
    if own is not None:
        return own
    whole = str(max(1, int(patience + 0.5)))
    if sys.platform == "win32":
        text, content = system_said(
            ["ping", "-n", "1", "-w", str(int(1000 * patience)), address], patience + 3
        )
        if content is None:
            return None
        return "TTL=" in text.upper()
    if sys.platform == "darwin":
        wait = ["-t", whole]
    else:
        wait = ["-W", whole]
    _, content = system_said(["ping", "-n", "-c", "1", *wait, address], patience + 3)
    return content


def _own_ping(address: str, patience: float) -> bool | None:
    """An echo request of our own where the system lets everybody, or us, send one; None where not."""
    if sys.platform == "win32":
        return None
    for kind in (socket.SOCK_DGRAM, socket.SOCK_RAW):
        try:
            line = socket.socket(socket.AF_INET, kind, socket.IPPROTO_ICMP)
        except OSError:
            continue
        with line:
            return _echo(line, address, patience)
    return None


def _echo(line: socket.socket, address: str, patience: float) -> bool:
    mark = os.urandom(8)
    head = struct.pack("!BBHHH", 8, 0, 0, os.getpid() & 0xFFFF, 1)
    check = echo_sum(head + mark)
    try:
        line.sendto(
            struct.pack("!BBHHH", 8, 0, check, os.getpid() & 0xFFFF, 1) + mark, (address, 0)
        )
        until = time.monotonic() + patience
        while time.monotonic() < until:
            line.settimeout(max(0.01, until - time.monotonic()))
            message, sender = line.recvfrom(2048)
            if message[0] >> 4 == 4:
                body = message[(message[0] & 15) * 4 :]
            else:
                body = message
            if sender[0] == address and body[:1] == b"\0" and body[8:16] == mark:
                return True
    except OSError:
        pass
    return False


def echo_sum(message: bytes) -> int:
    """The internet checksum. Source: RFC 1071."""
    total: int = sum(struct.unpack(f"!{len(message) // 2}H", message))
    while total >> 16:
        total = (total & 0xFFFF) + (total >> 16)
    return ~total & 0xFFFF


def neighbour(address: str) -> str | None:
    """The hardware address that answered for a neighbour lately, "" for none, None where the table cannot be read."""
    try:
        with open("/proc/net/arp", encoding="ascii", errors="replace") as table:
            return neighbour_in_table(table.read(), address)
    except OSError:
        pass
    text, content = system_said(
        ["arp", "-a", address] if sys.platform == "win32" else ["arp", "-n", address]
    )
    if content is None:
        return None
    return neighbour_in_words(text, address)


def neighbour_in_table(text: str, address: str) -> str:
    """From /proc/net/arp: the columns are address, hardware type, flags, hardware address, mask, device."""
    for line in text.splitlines()[1:]:
        cells = line.split()
        if len(cells) > 3 and cells[0] == address and int(cells[2], 16) & 2:
            return cells[3].lower()
    return ""


def neighbour_in_words(text: str, address: str) -> str:
    """From what ``arp`` prints, in whatever language: the hardware address on the line of an address."""
    for line in text.splitlines():
        found = MAC_WORDS.search(line)
        if found and address in re.findall(r"[0-9.]+", line):
            octets = [octet.zfill(2) for octet in re.split("[:-]", found.group().lower())]
            if octets != ["ff"] * 6:
                return ":".join(octets)
    return ""


def own_address_towards(address: str) -> str:
    """The address this machine would send from to reach another; nothing is sent. "" when there is no way."""
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as line:
            line.connect((address, 9))
            own: str = line.getsockname()[0]
            return own
    except OSError:
        return ""


def anybody(address: str, patience: float = 1.5) -> str:
    """What answers at an address, in words, "" when nothing does: a ping, a refused or open port, a neighbour."""
    if ping(address, patience):
        return "answers a ping"
    for port in COMMON_PORTS:
        word, _ = knock(address, port, patience / 2)
        if word in (OPEN, REFUSED):
            return f"TCP {port} is {word}"
    found = neighbour(address)
    if found:
        return f"hardware address {found} answers for it"
    return ""
