"""Odd values: what nobody types into a page and anybody can send to its address."""

from __future__ import annotations

import random
import re
from urllib.parse import quote_from_bytes

DIGITS = (
    "²",
    "٣",
    "１２",
    "0",
    "-1",
    "+5",
    "1_0",
    " 7 ",
    "1.5",
    "0x10",
    "1e400",
    "nan",
    "inf",
    "-inf",
    "007",
)
LARGE = (
    str(2**31),
    str(2**63 - 1),
    str(2**63),
    str(-(2**63) - 1),
    "9" * 19,
    "9" * 25,
    "9" * 40,
    "9" * 400,
    "9" * 5000,
)
TEXTS = (
    "",
    " ",
    "\x00",
    "a\x00b",
    "\x01\x08\x1b",
    "\ufffe\uffff",
    "\ud800",
    "a\udfffb",
    "\u202eabc",
    "\U0001f600" * 40,
    "a" * 70,
    "a" * 130,
    "ä" * 210,
    "x" * 4100,
    "y" * 21_000,
    "z" * 70_000,
    "<script>alert(1)</script>",
    "{{ 7|add:7 }}",
    "%s %d %(x)s",
    "{0.__class__}",
    "../../etc/passwd",
    "\r\nX-Odd: 1",
    "=1+1",
    "'\"`\\",
    "true",
    "null",
    "[]",
    "{}",
    "[" * 3000,
    "password: hunter2",
    ",",
    ";;;",
    "a,b;c\nd",
    "\t\n\v\f",
    "http://odd.example/",
    "@",
    "a@b",
    "-",
    ":",
)
ANCHORS = (
    "host-²",
    "host-",
    "-1",
    "host--1",
    f"host-{'9' * 30}",
    f"host-{'9' * 5000}",
    "odd-1",
    "site-1",
    "host-1-2",
    "hosts:²",
    "hosts:",
    f"hosts:{'9' * 20}",
    f"hosts:{'9' * 5000}",
    "hosts:-1",
    "hosts:1:1",
    "site:²",
    "own@owncheck-²",
    "outside-²",
    "²-²",
    f"{'9' * 30}-{'9' * 30}",
    "1-2-3",
    "host-1|address=1|²",
    f"host-{2**63}|x=y|{'9' * 30}",
    "3.²",
)
DAYS = (
    "0001-01-01",
    "1 Jan 1",
    "9999-12-31",
    "31 Dec 9999",
    "0000-00-00",
    "10000-01-01",
    "2027-13-45",
    "31 Feb 2027",
    "²",
    "2027-01-0²",
    "Mon",
    "10:00",
    "24:00",
    "23:59:60",
    "25:61",
    "-1:00",
    "1e9",
    "99999999999999999999",
    "7 pm am",
    "2027-W01-1",
    "now",
    "1.1.1.1",
    "12:00+99:99",
    "00:00 UTC+26",
    "12:00 ODD",
    "1:2:3:4:5",
    ".",
    "0.0",
    "a.m.",
)
UNITS = (
    "1e308",
    "9" * 39,
    "9" * 30 + " TB",
    "1,5,5",
    "1.2.3",
    "0,0",
    ".5",
    "5 odd",
    "5 %",
    "1 d",
    "99999999999 weeks",
    "١",
    "1'000",
    "0 min",
    "-5 GiB",
    "5%%",
)
NETS = (
    "0.0.0.0/0",
    "1.2.3.4/33",
    "1.2.3.²",
    "::/0",
    "::1%eth0",
    "255.255.255.255",
    "10.0.0.0/²",
    "10.0.0.0/-1",
    "a/b/c",
    "1-65536",
    "9-1",
    "0",
    "8443/²",
    "00:00:00:00:00:0²",
    "Europe/²",
    "1.2.3.4/255.0.255.0",
    "::ffff:1.2.3.4/200",
)
EVERY = (*DIGITS, *LARGE, *TEXTS, *ANCHORS, *DAYS, *UNITS, *NETS)
BROKEN = (
    b"\xff\xfe",
    b"\xc3",
    b"\xed\xa0\x80",
    b"\xc0\x80",
    b"a\x80b",
    b"\xf8\x88\x80\x80\x80",
)  # no UTF-8

HEADERS: tuple[dict[str, str], ...] = (
    {"HX-Request": "true"},
    {"HX-Request": "²"},
    {"HX-Request": "true", "HX-Target": "²" * 400},
    {"HX-Request": "true", "HX-Current-URL": "http://[odd"},
    {"HX-Request": "true", "HX-Boosted": "true"},
    {"HX-Request": "true", "HX-Current-URL": "%ZZ%00", "HX-Current-URL-URI-AutoEncoded": "true"},
    {"HX-Request": "true", "HX-Triggering-Event": "{"},
    {"Accept": "application/json"},
    {"Accept": "²;q=nan, */*;q=1e400"},
    {"Accept": ""},
    {"If-None-Match": "²"},
    {"If-None-Match": '"a", W/"b", *'},
    {"If-Match": "*"},
    {"If-Modified-Since": "²"},
    {"If-Modified-Since": "Mon, 99 Foo 0000 99:99:99 GMT"},
    {"If-Unmodified-Since": "Thu, 01 Jan 1 00:00:00 GMT"},
    {"Range": "bytes=²-"},
    {"Range": "bytes=5-1"},
    {"Accept-Language": "²,*;q=9"},
    {"Accept-Encoding": "gzip;q=²"},
    {"Referer": "http://[odd"},
    {"Origin": "null"},
    {"User-Agent": "ä" * 2000},
    {"X-Requested-With": "²"},
    {"X-Forwarded-For": "²"},
    {"X-Forwarded-For": ", ," * 300},
    {"X-Forwarded-Proto": "²"},
    {"X-CSRFToken": "²"},
    {"Host": "odd host"},
    {"Host": "testserver:²"},
    {"Content-Length": "²"},
    {"Content-Length": "-5"},
    {"Cookie": 'sessionid="\\000\\000\\000\\000\\000\\000\\000\\000"'},
    {"Cookie": "sessionid=²; csrftoken=\\"},
    {"Cookie": f"sessionid={'a' * 5000}"},
    {"Cookie": 'messages="\\000"'},
    {"Cookie": "messages=" + "A" * 3000},
    {"Content-Type": "text/plain; charset=hex"},
    {"Content-Type": "text/plain; charset=unicode_escape"},
    {"Content-Type": "text/plain; charset=utf-16"},
    {"Content-Type": "text/plain; charset=idna"},
    {"Content-Type": "²"},
    {"Content-Type": ""},
    {"Content-Type": "multipart/form-data"},
)
FORM, MULTIPART = "application/x-www-form-urlencoded", "multipart/form-data; boundary=odd"


def part(said: bytes, content: bytes) -> bytes:
    """A body of one part, under the boundary of :data:`MULTIPART`."""
    head = b"--odd\r\nContent-Disposition: form-data; " + said
    return head + b"\r\n\r\n" + content + b"\r\n--odd--\r\n"


BODIES: tuple[tuple[str, bytes], ...] = (
    ("application/json", b"{}"),
    ("application/json", b"[" * 50_000),
    ("application/json", b'{"a": NaN}'),
    ("text/plain", b"\x00\xff"),
    ("text/xml", b"<!DOCTYPE a [<!ENTITY b 'c'>]><a>&b;</a>"),
    ("", b"a=b"),
    ("²", b"a=b"),
    (FORM, b""),
    (FORM, b"&&&==&=&a"),
    (FORM, b"%"),
    (FORM, b"%zz=%&%00=%00"),
    (FORM, b"\xff\xfe=\xc3"),
    (FORM, b"a=1&" * 4900),
    (FORM, b"a=1&" * 6000),
    (FORM, b"a=" + b"b" * 2_200_000),
    (f"{FORM}; charset=utf-16", b"a=b"),
    (f"{FORM}; charset=hex", b"61=62"),
    (f"{FORM}; charset=unicode_escape", b"a=%5Cud800"),
    (f"{FORM}; charset=odd", b"a=b"),
    ("multipart/form-data", b"--odd\r\n"),
    ("multipart/form-data; boundary=", b"--\r\n"),
    ("multipart/form-data; boundary=²", b"--\r\n"),
    (f"multipart/form-data; boundary={'b' * 300}", b"--b\r\n"),
    (MULTIPART, b""),
    (MULTIPART, b"--odd"),
    (MULTIPART, b"--odd\r\n\r\n\r\n--odd--\r\n"),
    (MULTIPART, b"\x00" * 900),
    (MULTIPART, part(b"", b"x")),
    (MULTIPART, part(b'name="token"', b"a\x00b")),
    (MULTIPART, part(b'name="a"\r\nContent-Transfer-Encoding: base64', b"!")),
    (MULTIPART, part(b'name="file"; filename="a\x00b.csv"', b"Name")),
    (MULTIPART, part(b"name=\"file\"; filename*=odd''%ff", b"Name")),
    (MULTIPART, part(b'name="photos"; filename="\\"\r\nContent-Type: \xff', b"\x89PNG")),
    (MULTIPART + "; charset=hex", part(b'name="a"', b"b")),
    (MULTIPART + "; charset=unicode_escape", part(b'name="token"', b"\\ud800")),
)
SITE_1 = b'{"format": "deskwright.site", "version": 1'
FILES = (
    b"",
    b"\x00" * 2000,
    b"\xff\xfe\x00",
    b"PK\x03\x04",
    b"PK\x03\x04" + b"\x00" * 400,
    b"%PDF-1.4\n%%EOF",
    b"\x89PNG\r\n\x1a\n",
    b"GIF89a",
    b"\xff\xd8\xff\xe0",
    b"RIFF....WEBP",
    b"{",
    b"[]",
    b"null",
    b"[" * 90_000,
    b'{"a":' * 20_000,
    b'{"format": "\\ud800"}',
    b'{"format": "deskwright.site", "version": 1e400}',
    b'{"format": "deskwright.site", "version": true}',
    SITE_1 + b', "site": [], "hosts": {"a": 1}, "answers": [1, null, "x", {"check": 5}]}',
    SITE_1 + b', "hosts": [{"key": "host-\xc2\xb2", "memory_gib": 1e308, "sockets": -1}]}',
    b'{"format": "deskwright probe results 1", "network": -1}',
    b"Key,Name,Address\n\x00,\x00,\x00\n",
    b"Key;Name\n" + b";" * 500,
    b"Name,Address,Key\n" + b'"' * 4000,
    "Name,Address,MAC\n²,1.2.3.²,²\n".encode(),
    b"Name\n" + b"a" * 40_000,
    b"\xef\xbb\xbf",
)


def as_bytes(value: str | bytes) -> bytes:
    """A text as it travels; one half of a pair of surrogates too, which is no UTF-8."""
    return value if isinstance(value, bytes) else value.encode("utf-8", "surrogatepass")


def odd(chance: random.Random, valid: str | bytes = "", bent: float = 0.3) -> str | bytes:
    """An odd value; now and then one that comes close to what is valid."""
    if chance.random() < bent and valid:
        return _bent(chance, valid)
    return chance.choice(BROKEN) if chance.random() < 0.04 else chance.choice(EVERY)


def _bent(chance: random.Random, valid: str | bytes) -> str | bytes:
    """A valid value, a little off."""
    if isinstance(valid, bytes):
        return valid + b"\xff"
    digits = re.compile(r"\d+")
    return chance.choice(
        (
            valid + "²",
            valid + "\x00",
            valid[:-1],
            valid * 2,
            valid.upper(),
            as_bytes(valid) + b"\xff",
            "-" + valid,
            digits.sub("²", valid),
            digits.sub("9" * 30, valid),
            digits.sub("9" * 5000, valid),
            digits.sub("0", valid),
            digits.sub("-1", valid),
            digits.sub(str(2**63), valid),
            f"{valid},{valid}",
            valid.replace("-", ":"),
        )
    )


def query(pairs: list[tuple[str | bytes, str | bytes]]) -> str:
    """Pairs as they stand in an address or a form."""
    return "&".join(f"{escaped(name)}={escaped(value)}" for name, value in pairs)


def escaped(value: str | bytes) -> str:
    return quote_from_bytes(as_bytes(value), safe="")


def multipart(
    pairs: list[tuple[str | bytes, str | bytes]], files: list[tuple[str, bytes]]
) -> bytes:
    """Pairs and files as a browser sends them together, under the boundary of :data:`MULTIPART`."""
    parts = [
        b'--odd\r\nContent-Disposition: form-data; name="'
        + as_bytes(name)
        + b'"\r\n\r\n'
        + as_bytes(value)
        for name, value in pairs
    ]
    parts += [
        b'--odd\r\nContent-Disposition: form-data; name="'
        + as_bytes(name)
        + b'"; filename="odd.bin"\r\n\r\n'
        + content
        for name, content in files
    ]
    return b"\r\n".join([*parts, b"--odd--\r\n"])
