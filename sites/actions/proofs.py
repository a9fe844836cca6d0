"""Photos and files kept as proof: what is taken, how it is made harmless, where it is kept.

- What a file is, its content decides; its name and what the browser says of it decide nothing.
- A photo is drawn anew from its pixels: nothing else of it is kept, no place, no camera, no comment, nothing
  hung on behind. It is turned upright and made no larger than a screen can use.
- A file is a PDF or a plain text. Text that could be taken for a page or a drawing with script is refused.
- Its name in the folder is its own SHA-256, under the number of its site.
"""

from __future__ import annotations

import hashlib
import io
import os
import pathlib
import re
import tempfile
import warnings
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.conf import settings
from PIL import Image, ImageOps

from sites.models import Answer, Proof, Site
from sites.models.stages import SMALL_SIDE

MOST_FILES = 8  # with one answer
MOST_BYTES = 15 * 2**20  # of one file, as it is sent
MOST_BYTES_TOGETHER = 64 * 2**20
MOST_PIXELS = 64_000_000
SIDE = 2400  # pixels of the longer side, as kept
PNG_BYTES = 3 * 2**20  # a larger one is kept as JPEG
READ = ("JPEG", "PNG", "WEBP", "GIF")
ENDINGS = {"image/jpeg": "jpg", "image/png": "png", "application/pdf": "pdf", "text/plain": "txt"}
_MARKUP = re.compile(
    rb"<\s*(!doctype|\?xml|!entity|html|head|body|svg|script|iframe|object|embed|img|meta|link|style)", re.I
)
_CONTROL = re.compile(rb"[\x00-\x08\x0e-\x1f\x7f]")


class Unfit(Exception):
    """This cannot be kept; the message says why and what to do."""


@dataclass(frozen=True)
class Taken:
    """A photo or file, looked at and made ready to be kept."""

    kind: str
    name: str
    media_type: str
    content: bytes
    small: bytes = b""
    width: int = 0
    height: int = 0


def folder() -> pathlib.Path:
    """Where proofs are kept: nothing there is served by itself."""
    return pathlib.Path(settings.PROOFS)


def take_all(uploads: Sequence, too_large: bool = False) -> list[Taken]:
    """Every uploaded file, ready to be kept. Raises :class:`Unfit` when one cannot be; then none is."""
    if too_large:
        raise Unfit(f"That is too large: at most {MOST_BYTES >> 20} MB each and {MOST_BYTES_TOGETHER >> 20} MB together.")  # fmt: skip  # noqa: E501
    if len(uploads) > MOST_FILES:
        raise Unfit(f"At most {MOST_FILES} photos or files with one answer.")
    return [take(one.read(MOST_BYTES + 1), one.name or "") for one in uploads]


def take(content: bytes, name: str = "") -> Taken:
    """Looks at what somebody sent and makes it ready to be kept. Raises :class:`Unfit`."""
    name = plain_name(name)
    called = f"“{name}”" if name else "That file"
    if not content:
        raise Unfit(f"{called} is empty.")
    if len(content) > MOST_BYTES:
        raise Unfit(f"{called} is larger than {MOST_BYTES >> 20} MB.")
    picture = _opened(content)
    if picture is not None:
        return _photo(picture, name, called)
    if content.startswith(b"%PDF-") and b"%%EOF" in content[-2048:]:
        return Taken("file", name or "file.pdf", "application/pdf", content)
    if _is_text(content):
        return Taken("file", name or "file.txt", "text/plain", content)
    raise Unfit(f"{called} is not a photo (JPEG, PNG, WebP, GIF), a PDF or a plain text.")


def plain_name(name: str) -> str:
    """A file's name without its folders and without anything that is not to be read."""
    last = re.split(r"[/\\]", name)[-1]
    return re.sub(r"[^\w .,()+-]", "", last).strip(" .")[:100]


# -- photos --------------------------------------------------------------------------------------


def _opened(content: bytes) -> Image.Image | None:
    """The picture, its pixels not yet read; ``None`` when it is none. Raises :class:`Unfit` for one too large."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            found = Image.open(io.BytesIO(content), formats=READ)
    except Image.DecompressionBombError as error:
        raise Unfit("That photo has too many pixels.") from error
    except Exception:  # whatever is wrong with it, it is no picture
        return None
    if found.width * found.height > MOST_PIXELS:
        raise Unfit(f"That photo has more than {MOST_PIXELS // 1_000_000} million pixels.")
    return found


def _photo(picture: Image.Image, name: str, called: str) -> Taken:
    try:
        as_png = picture.format == "PNG"
        picture.draft("RGB", (SIDE, SIDE))  # a JPEG need not be unpacked larger than it is kept
        clean = _pixels(picture)
    except Exception as error:  # a broken picture fails in many ways
        raise Unfit(f"{called} is broken: take the photo again.") from error
    content = _written(clean, "PNG") if as_png else b""
    if not as_png or len(content) > PNG_BYTES:
        as_png, content = False, _written(clean, "JPEG")
    small = clean.copy()
    small.thumbnail((SMALL_SIDE, SMALL_SIDE))
    media_type = "image/png" if as_png else "image/jpeg"
    return Taken("photo", name or f"photo.{ENDINGS[media_type]}", media_type, content, _written(small, "JPEG"),
                 clean.width, clean.height)  # fmt: skip


def _pixels(picture: Image.Image) -> Image.Image:
    """The picture upright, no larger than is kept, on white where it is see-through; only its pixels."""
    upright = ImageOps.exif_transpose(picture)
    if upright.mode != "RGB":
        layered = upright.convert("RGBA")
        upright = Image.new("RGB", layered.size, "white")
        upright.paste(layered, mask=layered.getchannel("A"))
    upright.thumbnail((SIDE, SIDE))
    clean = Image.new("RGB", upright.size)
    clean.paste(upright)
    return clean


def _written(picture: Image.Image, form: str) -> bytes:
    out = io.BytesIO()
    picture.save(out, form, **({"quality": 85} if form == "JPEG" else {}), optimize=True)
    return out.getvalue()


# -- texts ---------------------------------------------------------------------------------------


def _is_text(content: bytes) -> bool:
    if _CONTROL.search(content) or _MARKUP.search(content):
        return False
    try:
        content.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


# -- keeping -------------------------------------------------------------------------------------


def keep(answer: Answer, taken: Iterable[Taken]) -> list[Proof]:
    """Writes what was taken into the folder and notes it with the answer."""
    return [
        Proof.objects.create(
            site_id=answer.site_id, answer=answer, kind=one.kind, name=one.name, media_type=one.media_type,
            place=_write(answer.site_id, one.content, ENDINGS[one.media_type]), size=len(one.content),
            small_place=_write(answer.site_id, one.small, "jpg") if one.small else "",
            width=one.width, height=one.height,
        )
        for one in taken
    ]  # fmt: skip


def _write(site: int, content: bytes, ending: str) -> str:
    """Writes whole or not at all; what is there already stays."""
    digest = hashlib.sha256(content).hexdigest()
    place = f"{site}/{digest[:2]}/{digest}.{ending}"
    path = folder() / place
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, half = tempfile.mkstemp(dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        os.replace(half, path)
    return place


def path_of(site: Site, place: str) -> pathlib.Path | None:
    """Where a proof's content lies; ``None`` when it is not there or not this site's."""
    home = (folder() / str(site.pk)).resolve()
    path = (folder() / place).resolve()
    return path if place and path.is_relative_to(home) and path.is_file() else None
