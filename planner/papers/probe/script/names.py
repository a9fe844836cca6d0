"""Names: a small DNS query of its own, to ask one named server over UDP and TCP.

Source: RFC 1035, sections 4.1 (messages), 4.1.4 (compression), 4.2 (transport); RFC 2782 (SRV); RFC 7766
(a cut answer is asked for again over TCP).
"""

from __future__ import annotations

import collections.abc
import os
import socket
import struct
import time
import typing

from planner.papers.probe.script.words import LATE, NoAnswer, why_of

DNS_TYPES = {"A": 1, "CNAME": 5, "SOA": 6, "PTR": 12, "SRV": 33}
DNS_CODES = {
    1: "the server did not understand the question",
    2: "the server failed",
    3: "there is no such name",
    4: "the server does not do this",
    5: "the server refused",
}
LONGEST_CHAIN = 12  # of names that stand for names


class ServiceRecord(typing.NamedTuple):
    """Where a service is to be found."""

    priority: int
    weight: int
    port: int
    host: str


if typing.TYPE_CHECKING:
    Value = str | ServiceRecord
    Record = tuple[str, int, Value]


class Answers:
    """What a DNS server said: its code, and the records of its answer as (name, type, value)."""

    def __init__(self, code: int, cut: bool, records: list[Record]) -> None:
        self.code = code
        self.cut = cut
        self.records = records

    @typing.overload
    def of(self, name: str, kind: typing.Literal["SRV"]) -> list[ServiceRecord]: ...

    @typing.overload
    def of(self, name: str, kind: typing.Literal["A", "PTR"]) -> list[str]: ...

    def of(self, name: str, kind: str) -> collections.abc.Sequence[Value]:
        """The values of one type for a name, by way of the names it stands for."""
        wanted, number = plain_name(name), DNS_TYPES[kind]
        for _ in range(LONGEST_CHAIN):
            found = [
                value for owner, type_, value in self.records if owner == wanted and type_ == number
            ]
            if found:
                return found
            onward = [
                value
                for owner, type_, value in self.records
                if owner == wanted and type_ == DNS_TYPES["CNAME"] and isinstance(value, str)
            ]
            if not onward:
                return []
            wanted = onward[0]
        return []


def plain_name(name: str) -> str:
    """A name as it is compared: small letters, no dot at its end."""
    return name.rstrip(".").lower()


def reverse_name(address: str) -> str:
    """The name that an IPv4 address is looked up under."""
    return ".".join(reversed(address.split("."))) + ".in-addr.arpa"


def dns_name(name: str) -> bytes:
    """A name as a message carries it. Raises ``ValueError`` for what cannot be one."""
    packed = b""
    for label in name.rstrip(".").split(".") if name.rstrip(".") else []:
        if label.isascii():
            raw = label.encode("ascii")
        else:
            raw = label.encode("idna")
        if not 0 < len(raw) < 64:
            raise ValueError("not a name")
        packed += bytes([len(raw)]) + raw
    if len(packed) > 254:
        raise ValueError("not a name")
    return packed + b"\0"


def dns_question(number: int, name: str, kind: str) -> bytes:
    """A query message: one question, recursion wanted."""
    return (
        struct.pack("!6H", number, 0x0100, 1, 0, 0, 0)
        + dns_name(name)
        + struct.pack("!2H", DNS_TYPES[kind], 1)
    )


def read_name(message: bytes, at: int) -> tuple[str, int]:
    """The name at a place of a message, and where what follows it begins."""
    labels: list[str] = []
    end: int | None = None
    length = 0
    for _ in range(200):
        size = message[at]
        if size == 0:
            return ".".join(labels).lower(), at + 1 if end is None else end
        if size & 0xC0 == 0xC0:
            if end is None:
                end = at + 2
            else:
                end = end
            at = (size & 0x3F) << 8 | message[at + 1]
        elif size & 0xC0:
            break
        else:
            length += size + 1
            label = message[at + 1 : at + 1 + size]
            if len(label) < size or length > 255:
                break
            labels.append(label.decode("latin-1"))
            at += size + 1
    raise ValueError("a name in the answer cannot be read")


def read_answers(message: bytes, number: int, question: bytes) -> Answers:
    """The answer in a message to our question. Raises ``ValueError`` for a message that is none, or is broken."""
    try:
        given, flags, questions, count, _, _ = struct.unpack_from("!6H", message)
        code = flags & 15
        if given != number or not flags & 0x8000 or questions > 1 or (not questions and not code):
            raise ValueError("not an answer to this question")
        at = 12
        if questions:
            name, at = read_name(message, at)
            asked, end = read_name(question, 12)
            if name != asked or message[at : at + 4] != question[end : end + 4]:
                raise ValueError("not an answer to this question")
            at += 4
        cut = bool(flags & 0x0200)
        records: list[Record] = []
        for _ in range(0 if cut else count):
            owner, at = read_name(message, at)
            type_, class_, _, size = struct.unpack_from("!2HIH", message, at)
            at += 10
            if at + size > len(message):
                raise ValueError("the answer ends too early")
            if class_ == 1:
                value = _value(message, at, size, type_)
            else:
                value = None
            if value is not None:
                records.append((owner, type_, value))
            at += size
        return Answers(code, cut, records)
    except (IndexError, struct.error) as error:
        raise ValueError("the answer cannot be read") from error


def _value(message: bytes, at: int, size: int, type_: int) -> Value | None:
    """What a record says, ``None`` for one of another type or of a size that it cannot have."""
    if type_ == DNS_TYPES["A"] and size == 4:
        return ".".join(str(octet) for octet in message[at : at + 4])
    if type_ in (DNS_TYPES["CNAME"], DNS_TYPES["PTR"]):
        return read_name(message, at)[0]
    if type_ == DNS_TYPES["SRV"] and size > 6:
        priority, weight, port = struct.unpack_from("!3H", message, at)
        return ServiceRecord(priority, weight, port, read_name(message, at + 6)[0])
    return None


def dns_ask(
    server: str, name: str, kind: str, patience: float = 3.0, transport: str = "udp", port: int = 53
) -> Answers:
    """Asks one server for one type of record. Raises :class:`NoAnswer` when nothing usable comes back."""
    number = struct.unpack("!H", os.urandom(2))[0]
    try:
        question = dns_question(number, name, kind)
    except (ValueError, UnicodeError):
        raise NoAnswer("that is no name that can be asked for") from None
    try:
        if transport == "udp":
            found = _over_udp(server, port, question, number, patience)
            if not found.cut:
                return found
        return _over_tcp(server, port, question, number, patience)
    except ConnectionRefusedError:
        raise NoAnswer("nothing answers for names there (refused)", refused=True) from None
    except LATE:
        raise NoAnswer(f"no answer in {patience:g} s", silent=True) from None
    except ValueError as error:
        raise NoAnswer(str(error), refused=True) from None
    except OSError as error:
        raise NoAnswer(why_of(error), silent=True) from None


def _over_udp(server: str, port: int, question: bytes, number: int, patience: float) -> Answers:
    """Asks twice at most; what is no answer to the question is passed over."""
    for patient in (patience / 2, patience / 2):
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as line:
            line.connect((server, port))
            line.send(question)
            until = time.monotonic() + patient
            while time.monotonic() < until:
                line.settimeout(max(0.01, until - time.monotonic()))
                try:
                    message = line.recv(65535)
                except LATE:
                    break
                try:
                    return read_answers(message, number, question)
                except ValueError:
                    continue
    raise LATE


def _over_tcp(server: str, port: int, question: bytes, number: int, patience: float) -> Answers:
    with socket.create_connection((server, port), patience) as line:
        line.sendall(struct.pack("!H", len(question)) + question)
        size = struct.unpack("!H", _exactly(line, 2))[0]
        found = read_answers(_exactly(line, size), number, question)
    if found.cut:
        raise ValueError("the answer is cut short even over TCP")
    return found


def _exactly(line: socket.socket, size: int) -> bytes:
    found = b""
    while len(found) < size:
        more = line.recv(size - len(found))
        if not more:
            raise ValueError("the line was closed before the answer ended")
        found += more
    return found
