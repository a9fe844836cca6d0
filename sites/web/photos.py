"""Photos: drawn anew from their pixels, within bounds of size, memory and time.

Nothing else of a photo is kept: no place, no camera, no comment, nothing hung on behind. It is turned upright and
made no larger than a screen can use.

What a photo costs is what its pixels take unpacked, not its bytes: 64 million of them fit into 249 kB. So its head
is read first, and too many are refused before one is unpacked. Its reader gets what says something of the pixels
(:mod:`sites.web.bare_photos`) and nothing else. A JPEG is unpacked smaller than it is (Pillow's
``draft``); other kinds cannot be, and are gone through in bands, so that a second whole copy is never made. In one
process one answer's photos are looked at at a time, and few wait for that. ``tests/test_photo_costs.py`` measures the
memory of each kind.
"""

from __future__ import annotations

import contextlib
import io
import threading
import warnings
from collections.abc import Iterator
from typing import IO

from PIL import Image

from sites.web import bare_photos

READ = ("JPEG", "PNG", "WEBP", "GIF")
MOST_PIXELS = 25_000_000
FEWER = {
    "WEBP": 10_000_000
}  # its reader holds several whole pictures at once, about 20 bytes a pixel
MOST_PIXELS_TOGETHER = 100_000_000  # with one answer
PROGRESSIVE = (
    16_000_000  # pixels from which on a progressive JPEG is unpacked at half its sides or less
)
SIDE = 2400  # pixels of the longer side, as kept
BAND = 1_000_000  # pixels that are converted at a time
WAIT = 30  # seconds for one's turn
MOST_WAITING = (
    2  # threads that may wait for it; the others are free for whoever wants no photo looked at
)
TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
_TURN_OF_ONE = threading.Lock()
_PLACES_TO_WAIT = threading.Semaphore(MOST_WAITING)


class TooMany(Exception):
    """More pixels than are taken; the message says how many they are and how many may be."""


class Busy(Exception):
    """Others' photos are being looked at, and enough wait already, or the wait was too long."""


class Broken(Exception):
    """It begins like a photo and cannot be unpacked."""


class TooLong(Exception):
    """What was being written grew beyond what was allowed."""


def opened(file: IO[bytes]) -> Image.Image | None:
    """The photo, its pixels not yet read; ``None`` when it is none. Raises :class:`TooMany`."""
    try:
        only = bare_photos.bare(file.read())
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            found = Image.open(io.BytesIO(only.content), formats=READ)
        found.info["orientation"] = only.orientation
    except bare_photos.Odd as error:
        raise TooMany(
            "is put together of so many pieces that it would take minutes to look at"
        ) from error
    except Image.DecompressionBombError as error:
        raise TooMany(f"has more than {_millions(MOST_PIXELS)} million pixels") from error
    except Exception:  # whatever is wrong with it, it is no photo
        return None
    most = FEWER.get(found.format or "", MOST_PIXELS)
    if found.width * found.height > most:
        if most < MOST_PIXELS:
            kind = f" in a {found.format} file"
        else:
            kind = ""
        raise TooMany(
            f"has {_millions(found.width * found.height)} million pixels; at most {_millions(most)} "
            f"million are taken{kind}"
        )
    return found


def pixels_of(file: IO[bytes]) -> int:
    """How many pixels a photo has, by its head alone; 0 for what is none or too large by itself."""
    try:
        found = opened(file)
    except TooMany:
        return 0  # it is refused by itself, with its name
    finally:
        file.seek(0)
    if found:
        return found.width * found.height
    return 0


def _millions(pixels: int) -> str:
    return f"{pixels / 1e6:.3g}"


@contextlib.contextmanager
def in_turn() -> Iterator[None]:
    """The photos of one answer at a time in this process, whatever its threads are doing. Raises :class:`Busy`."""
    if not (_TURN_OF_ONE.acquire(blocking=False) or _waited()):
        raise Busy
    try:
        yield
    finally:
        _TURN_OF_ONE.release()


def _waited() -> bool:
    """Waits for one's turn, if there is a place to wait; whether it came."""
    if not _PLACES_TO_WAIT.acquire(blocking=False):
        return False
    try:
        return _TURN_OF_ONE.acquire(timeout=WAIT)
    finally:
        _PLACES_TO_WAIT.release()


def drawn(picture: Image.Image) -> Image.Image:
    """Only its pixels: upright, no larger than is kept, on white where it is see-through. It is closed with that.

    Raises :class:`Broken`.
    """
    try:
        picture.draft("RGB", _unpacked(picture))
        picture.load()
        turn = TURNS.get(picture.info["orientation"])
        clean = _reduced(picture)
        picture.close()  # what it took is free before more is asked for
        clean.thumbnail((SIDE, SIDE))
        if turn is not None:
            return clean.transpose(turn)
        return clean
    except Exception as error:  # a broken picture fails in many ways
        raise Broken from error


def _unpacked(picture: Image.Image) -> tuple[int, int]:
    """How large a JPEG must be unpacked at least: as it is kept.

    A progressive one is read into memory whole, at 2 bytes a pixel and colour, before it is made smaller: of a large
    one half the sides are enough.
    """
    longer = max(picture.size)
    least = min(SIDE, longer)
    if picture.info.get("progressive") and picture.width * picture.height > PROGRESSIVE:
        least = min(SIDE, longer // 2)
    return max(1, picture.width * least // longer), max(1, picture.height * least // longer)


def _reduced(picture: Image.Image) -> Image.Image:
    """The picture made smaller by a whole number, band by band."""
    each = max(1, max(picture.size) // SIDE)
    width, height = (-(-side // each) for side in picture.size)
    clean = Image.new("RGB", (width, height))
    rows = max(1, BAND // picture.width // each) * each  # whole groups of rows: bands leave no seam
    for top in range(0, picture.height, rows):
        band = picture.crop((0, top, picture.width, min(top + rows, picture.height)))
        clean.paste(_on_white(band).reduce(each), (0, top // each))
    return clean


def _on_white(band: Image.Image) -> Image.Image:
    if band.mode.startswith("I;16"):
        band = band.point(lambda value: value / 256).convert("L")
    if band.mode in ("RGB", "L", "CMYK") and "transparency" not in band.info:
        return band.convert("RGB")
    layered = band.convert("RGBA")
    white = Image.new("RGB", layered.size, "white")
    white.paste(layered, mask=layered.getchannel("A"))
    return white


class _Bounded(io.BytesIO):
    """Bytes in memory, no more than ``most`` of them."""

    def __init__(self, most: int):
        super().__init__()
        self.most = most

    def write(self, content) -> int:
        if self.tell() + len(content) > self.most:
            raise TooLong
        return super().write(content)


def as_jpeg(picture: Image.Image) -> bytes:
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=85, optimize=True)
    return out.getvalue()


def as_png(picture: Image.Image, most: int) -> bytes | None:
    """As PNG; ``None`` when that is longer than ``most``. It is given up at once then, not packed to its end."""
    out = _Bounded(most)
    try:
        picture.save(out, "PNG", compress_level=4)
    except TooLong:
        return None
    return out.getvalue()
