"""Photos at the limit of what is taken, made quickly: each kind that costs its reader most."""

from __future__ import annotations

import io
import struct
import zlib

from PIL import Image

SIDES = (5000, 5000)  # 25 million pixels
SQUARE = (4799, 4799)  # the most that is not made smaller by a whole number
PASSES = (
    (0, 0, 8, 8),
    (4, 0, 8, 8),
    (0, 4, 4, 8),
    (2, 0, 4, 4),
    (0, 2, 2, 4),
    (1, 0, 2, 2),
    (0, 1, 1, 2),
)
COLOURS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}  # samples a pixel, by the PNG's kind of colour


def png(
    sides: tuple[int, int] = SIDES, *, depth: int = 8, colour: int = 6, interlaced: bool = False
) -> bytes:
    """A PNG written by hand, every row the same. Source: PNG Specification (Third Edition), W3C, sections 8 and 11."""
    passes = PASSES if interlaced else ((0, 0, 1, 1),)
    packed = zlib.compressobj(1)
    content = []
    for left, top, across, down in passes:
        width, height = -(-(sides[0] - left) // across), -(-(sides[1] - top) // down)
        length = (width * depth * COLOURS[colour] + 7) // 8
        row = b"\0" + (bytes(range(256)) * (length // 256 + 1))[:length]
        content += [packed.compress(row) for _ in range(height)]
    content.append(packed.flush())
    head = struct.pack(">IIBBBBB", *sides, depth, colour, 0, 0, int(interlaced))
    palette = _chunk(b"PLTE", bytes(768)) if colour == 3 else b""
    return (
        b"\x89PNG\r\n\x1a\n"
        + _chunk(b"IHDR", head)
        + palette
        + _chunk(b"IDAT", b"".join(content))
        + _chunk(b"IEND")
    )


def _chunk(kind: bytes, content: bytes = b"") -> bytes:
    return (
        struct.pack(">I", len(content))
        + kind
        + content
        + struct.pack(">I", zlib.crc32(kind + content))
    )


def saved(form: str, mode: str, sides: tuple[int, int] = SIDES, **more) -> bytes:
    out = io.BytesIO()
    Image.linear_gradient("L").resize(sides).convert(mode).save(out, form, **more)
    return out.getvalue()


def film() -> bytes:
    """A GIF of many frames."""
    frames = [Image.new("P", (2000, 2000), shade) for shade in range(60)]
    out = io.BytesIO()
    frames[0].save(out, "GIF", save_all=True, append_images=frames[1:])
    return out.getvalue()


# -- files that keep their reader busy: few bytes, or many small pieces -----------------------------


def of_scans(scans: int, side: int = 5000) -> bytes:
    """A progressive JPEG, grey, whose scans but the first say nothing: each goes over all blocks once more.

    Source: ITU-T T.81, B.2 (segments) and G.1.2.2 (runs of blocks that end: EOB14 with its 14 bits).
    """
    blocks = ((side + 7) // 8) ** 2
    frame = struct.pack(">BHHB", 8, side, side, 1) + b"\x01\x11\0"
    out = b"\xff\xd8" + _segment(0xDB, b"\0" + b"\x10" * 64) + _segment(0xC2, frame)
    of_one_code = bytes([1] + [0] * 15)
    out += _segment(0xC4, b"\x00" + of_one_code + b"\x00")
    out += _segment(0xC4, b"\x10" + of_one_code + b"\xe0")
    out += _segment(0xDA, b"\x01\x01\x00\x00\x00\x00") + _bits("0" * blocks)
    runs, left = "", blocks
    while left > 0:
        run = max(16384, min(left, 32767))
        runs += "0" + format(run - 16384, "014b")
        left -= run
    empty = _segment(0xDA, b"\x01\x01\x00\x01\x3f\x00") + _bits(runs)
    return out + empty * (scans - 1) + b"\xff\xd9"


def _segment(marker: int, content: bytes) -> bytes:
    return b"\xff" + bytes([marker]) + struct.pack(">H", len(content) + 2) + content


def _bits(text: str) -> bytes:
    text += "1" * (-len(text) % 8)
    packed = int(text, 2).to_bytes(len(text) // 8, "big")
    return packed.replace(b"\xff", b"\xff\x00")


def directory(length: int, turn: int = 6) -> bytes:
    """Exif whose every entry but one points at all of it again."""
    count = min(5000, (length - 32) // 12)
    entries = struct.pack("<HHIHH", 0x0112, 3, 1, turn, 0)
    entries += b"".join(
        struct.pack("<HHII", 1000 + number, 7, length - 8, 8) for number in range(count - 1)
    )
    exif = b"II*\0" + struct.pack("<IH", 8, count) + entries + bytes(4)
    return exif + bytes(max(0, length - len(exif)))


def jpeg_with(*segments: bytes, sides: tuple[int, int] = (64, 48)) -> bytes:
    plain = saved("JPEG", "RGB", sides)
    return plain[:2] + b"".join(segments) + plain[2:]


def png_with(*chunks: bytes, sides: tuple[int, int] = (64, 48)) -> bytes:
    plain = png(sides)
    return plain[:33] + b"".join(chunks) + plain[33:]


def gif_with_comment(pieces: int) -> bytes:
    plain = saved("GIF", "P", (64, 48))
    begin = 13 + (3 << ((plain[10] & 7) + 1))  # behind the table of colours
    return plain[:begin] + b"!\xfe" + b"\x01a" * pieces + b"\0" + plain[begin:]


# Each must be looked at, or refused, in little time and memory.
BUSY = {
    "JPEG of 2,000 scans": lambda: of_scans(2000),
    "JPEG of 100 scans": lambda: of_scans(100),
    "JPEG with a directory of 65 kB": lambda: jpeg_with(
        _segment(0xE1, b"Exif\0\0" + directory(65_000))
    ),
    "JPEG of a million empty segments": lambda: jpeg_with(_segment(0xEF, b"") * 1_000_000),
    "JPEG with ten million bytes between": lambda: jpeg_with(b"\xff" * 10_000_000),
    "PNG with a directory of 10 MB": lambda: png_with(_chunk(b"eXIf", directory(10_000_000))),
    "PNG of a million chunks": lambda: png_with(_chunk(b"zzZz") * 1_000_000),
    "GIF with a comment of 60,000 pieces": lambda: gif_with_comment(60_000),
    "GIF with a comment of 7 million pieces": lambda: gif_with_comment(7_000_000),
}

KINDS = {
    "JPEG of 100 scans": lambda: of_scans(100),
    "PNG RGBA": lambda: png(),
    "PNG RGBA, 4799²": lambda: png(SQUARE),
    "PNG RGBA, interlaced": lambda: png(interlaced=True),
    "PNG RGBA, 16 bit": lambda: png(depth=16),
    "PNG RGBA, 16 bit, interlaced": lambda: png(depth=16, interlaced=True),
    "PNG grey, 16 bit": lambda: png(depth=16, colour=0),
    "PNG palette": lambda: png(colour=3),
    "JPEG": lambda: saved("JPEG", "RGB"),
    "JPEG, 4799²": lambda: saved("JPEG", "RGB", SQUARE),
    "JPEG progressive CMYK": lambda: saved("JPEG", "CMYK", progressive=True, subsampling=0),
    "JPEG progressive CMYK, 4000²": lambda: saved(
        "JPEG", "CMYK", (4000, 4000), progressive=True, subsampling=0
    ),
    "WebP RGBA, 10 Mpx": lambda: saved("WEBP", "RGBA", (3162, 3162), quality=50),
    "WebP RGBA, 10 Mpx, lossless": lambda: saved(
        "WEBP", "RGBA", (3162, 3162), lossless=True, method=0
    ),
    "GIF": lambda: saved("GIF", "P"),
    "GIF of 60 frames": film,
}
