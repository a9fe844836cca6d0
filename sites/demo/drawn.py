"""Pictures for the demo where a real house has photographs: drawn, and each says so."""

from __future__ import annotations

import functools
import io
import pathlib
import textwrap

import font_source_sans_pro
from PIL import Image, ImageDraw, ImageFont

from sites.actions.proofs import Taken, take

SIZE = (960, 640)
PAPER, INK, SOFT, RULE = "#f3eee2", "#1d2730", "#5a6470", "#d9d1c0"


def drawn_photo(words: str) -> Taken:
    """A drawn sheet with a check's words on it, taken as an uploaded photo is."""
    sheet = Image.new("RGB", SIZE, PAPER)
    pen = ImageDraw.Draw(sheet)
    pen.rectangle((40, 40, SIZE[0] - 40, SIZE[1] - 40), outline=RULE, width=4)
    for number, line in enumerate(textwrap.wrap(words, 34)[:7]):
        pen.text((80, 90 + 58 * number), line, fill=INK, font=_font(44))
    pen.text(
        (80, SIZE[1] - 110),
        "Drawn for the demo, in place of a photograph",
        fill=SOFT,
        font=_font(30),
    )
    out = io.BytesIO()
    sheet.save(out, "PNG")
    return take(out.getvalue(), "drawn.png")


@functools.cache
def _font(size: int) -> ImageFont.FreeTypeFont:
    folder = pathlib.Path(font_source_sans_pro.__file__).parent / "files"
    return ImageFont.truetype(str(folder / "SourceSansPro-Regular.ttf"), size)
