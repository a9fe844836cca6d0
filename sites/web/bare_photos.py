"""A photo's file without everything that is not its pixels, before anything is unpacked.

What hangs on a photo (places, comments, small pictures, colour profiles) is not kept, and a reader that goes through
it can be kept busy for minutes by a small file: thousands of empty scans, a directory whose entries all point at the
same bytes, a comment in pieces of one byte. So only what says something of the pixels goes on to the reader; of the
rest, which way up the photo is. Sources: ITU-T T.81, annex B (JPEG); PNG Specification (Third Edition), W3C,
section 5; GIF89a Specification, CompuServe; TIFF 6.0, section 2, with Exif 3.0, 4.6.5 (the turn).
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass

MOST_SCANS = 100  # of a JPEG; what cameras write has about ten
MOST_PIECES = 100_000  # segments, chunks or blocks of a file
ORIENTATION = 0x0112


class Odd(Exception):
    """It is put together as no camera does, and would cost its reader too much."""


@dataclass(frozen=True)
class Bare:
    """What is left of the file, and which way up the photo is (Exif's numbers, 1 for upright)."""

    content: bytes
    orientation: int = 1


def bare(content: bytes) -> Bare:
    """The file as its reader gets it; any other kind of file as it is. Raises :class:`Odd`."""
    if content.startswith(b"\xff\xd8"):
        return _jpeg(content)
    if content.startswith(_PNG):
        return _png(content)
    if content.startswith((b"GIF87a", b"GIF89a")):
        return Bare(_gif(content))
    if content.startswith(b"RIFF") and content[8:12] == b"WEBP":
        return Bare(content, _of_webp(content))
    return Bare(content)


# -- JPEG ----------------------------------------------------------------------------------------

_SOS, _EOI, _EXIF, _ADOBE = 0xDA, 0xD9, 0xE1, 0xEE
_COMMENT, _JFIF = 0xFE, 0xE0
_ALONE = (0x01, *range(0xD0, 0xD8))  # markers that nothing follows
_NEXT_MARKER = re.compile(rb"\xff+([^\x00\xff])")
_END_OF_SCAN = re.compile(rb"\xff+[^\x00\xff\xd0-\xd7]")


def _jpeg(content: bytes) -> Bare:
    kept, orientation, scans = [b"\xff\xd8"], 1, 0
    for marker, segment, scan in _segments(content):
        if marker == _EXIF and segment[4:10] == b"Exif\0\0":
            orientation = turn_in(segment[10:])
        if marker == _COMMENT or (0xE0 <= marker <= 0xEF and marker not in (_JFIF, _ADOBE)):
            continue
        scans += marker == _SOS
        if scans > MOST_SCANS:
            raise Odd
        kept += [segment, scan]
    return Bare(b"".join(kept), orientation)


def _segments(content: bytes) -> Iterator[tuple[int, bytes, bytes]]:
    """Each segment with its marker, and the packed pixels that follow it where it begins a scan."""
    at = 2
    for _ in range(MOST_PIECES):
        found = _NEXT_MARKER.search(content, at)
        if found is None:
            return  # cut off: its reader shall see that, too
        if found[1][0] == _EOI:
            yield _EOI, b"\xff\xd9", b""
            return
        marker, begin = found[1][0], found.end()
        if marker in _ALONE:
            at = begin
            continue
        length = int.from_bytes(content[begin : begin + 2], "big")
        at = begin + length
        segment = b"\xff" + content[begin - 1 : at]
        scan = b""
        if marker == _SOS:
            end = _END_OF_SCAN.search(content, at)
            if end:
                stop = end.start()
            else:
                stop = len(content)
            scan, at = content[at:stop], stop
        yield marker, segment, scan
    raise Odd


# -- PNG -----------------------------------------------------------------------------------------

_PNG = b"\x89PNG\r\n\x1a\n"
_OF_PIXELS = (b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND")


def _png(content: bytes) -> Bare:
    kept, orientation = [_PNG], 1
    for kind, begin, end in _chunks(content):
        if kind == b"eXIf":
            orientation = turn_in(content[begin + 8 : end - 4])
        if kind in _OF_PIXELS:
            kept.append(content[begin:end])
    return Bare(b"".join(kept), orientation)


def _chunks(content: bytes) -> Iterator[tuple[bytes, int, int]]:
    """The kind of each chunk, and from where to where it goes with its head and its sum."""
    at = len(_PNG)
    for _ in range(MOST_PIECES):
        if at + 8 > len(content):
            return
        length, kind = struct.unpack_from(">I4s", content, at)
        end = at + 12 + length
        yield kind, at, end
        at = end
    raise Odd


# -- GIF -----------------------------------------------------------------------------------------

_EXTENSION, _CONTROL, _IMAGE = 0x21, 0xF9, 0x2C


def _gif(content: bytes) -> bytes:
    """The first picture alone, with the colour that is see-through."""
    at = 13 + _colours(content, 10)
    kept = [content[:at]]
    while content[at : at + 1] == bytes([_EXTENSION]):
        end = _blocks_end(content, at + 2)
        if content[at + 1 : at + 2] == bytes([_CONTROL]):
            kept.append(content[at:end])
        at = end
    if content[at : at + 1] == bytes([_IMAGE]):
        pixels = at + 10 + _colours(content, at + 9) + 1
        kept.append(content[at : _blocks_end(content, pixels)])
    return b"".join([*kept, b";"])


def _colours(content: bytes, at: int) -> int:
    """The length of the table of colours that follows, by the byte that says so."""
    if at < len(content):
        packed = content[at]
    else:
        packed = 0
    if packed & 0x80:
        return 3 << ((packed & 7) + 1)
    return 0


def _blocks_end(content: bytes, at: int) -> int:
    for _ in range(MOST_PIECES):
        if at >= len(content) or not content[at]:
            return at + 1
        at += content[at] + 1
    raise Odd


# -- which way up --------------------------------------------------------------------------------


def _of_webp(content: bytes) -> int:
    at = 12
    for _ in range(MOST_PIECES):
        if at + 8 > len(content):
            return 1
        kind, length = struct.unpack_from("<4sI", content, at)
        if kind == b"EXIF":
            exif = content[at + 8 : at + 8 + length]
            return turn_in(exif.removeprefix(b"Exif\0\0"))
        at += 8 + length + length % 2
    raise Odd


def turn_in(exif: bytes) -> int:
    """The orientation that Exif's first directory names; 1 where it names none."""
    order = {b"II*\0": "<", b"MM\0*": ">"}.get(exif[:4])
    if order is None or len(exif) < 8:
        return 1
    (begin,) = struct.unpack_from(order + "I", exif, 4)
    if begin + 2 > len(exif):
        return 1
    (count,) = struct.unpack_from(order + "H", exif, begin)
    for at in range(begin + 2, min(begin + 2 + 12 * count, len(exif) - 11), 12):
        tag, kind, _, value = struct.unpack_from(order + "HHIH", exif, at)
        if tag == ORIENTATION and kind == 3:  # a short number
            return value
    return 1
