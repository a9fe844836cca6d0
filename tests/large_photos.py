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


KINDS = {
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
