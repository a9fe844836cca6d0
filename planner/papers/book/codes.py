"""Square codes that a telephone reads: from a printed page to the page on screen."""

from __future__ import annotations

import functools
import urllib.parse
from typing import Any

from reportlab.graphics.barcode import qrencoder

from planner.papers.book.bands import Shape

QUIET = 4  # modules of white around a code. Source: ISO/IEC 18004, quiet zone of four modules (as quoted in code)
LONGEST = 400  # signs of an address; a longer one would make modules too small for a telephone
SAFE = ":/?#[]@!$&'()*+,;=%~"  # what an address may hold as it is


def address(site_url: str, path: str = "") -> str:
    """An address below the site's own, in plain letters; "" where there is none or it is too long."""
    if not site_url.strip():
        return ""
    whole = f"{site_url.strip().rstrip('/')}/{path}"
    plain = urllib.parse.quote(whole.encode("utf-8", "replace"), safe=SAFE)
    if len(plain) <= LONGEST and plain.startswith(("http://", "https://")):
        return plain
    return ""


@functools.lru_cache(maxsize=256)
def modules(text: str) -> tuple[tuple[bool, ...], ...]:
    """The dark (true) and light modules of a text's code, row by row, error correction level M."""
    code = qrencoder.QRCode(None, qrencoder.QRErrorCorrectLevel.M)
    code.addData(qrencoder.QR8bitByte(text))
    code.make()
    return tuple(tuple(bool(one) for one in row) for row in code.modules)


def code_shape(text: str, left: float, down: float, side: float) -> Shape:
    """The code of an address, ``side`` wide with its quiet zone, which is a link as well; ``down`` is its top."""
    rows = modules(text)
    step = side / (len(rows) + 2 * QUIET)

    def draw(canvas: Any, x: float, top: float) -> None:
        right, up = x + left + QUIET * step, top - down - QUIET * step
        canvas.put_squares(_runs(rows), right, up, step)
        canvas.linkURL(text, (x + left, top - down - side, x + left + side, top - down), relative=1)

    return draw


def _runs(rows: tuple[tuple[bool, ...], ...]) -> list[tuple[int, int, int]]:
    """Dark modules that stand side by side as one: (row, first column, how many)."""
    found = []
    for at, row in enumerate(rows):
        start = None
        for column, dark in enumerate((*row, False)):
            if dark and start is None:
                start = column
            elif not dark and start is not None:
                found.append((at, start, column - start))
                start = None
    return found
