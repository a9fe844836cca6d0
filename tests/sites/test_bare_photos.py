"""Of a photo's file the reader gets the pixels, and nothing of what hangs on them."""

import io
import struct

import pytest
from PIL import Image, ImageChops

from sites.actions.proofs import Unfit, take
from sites.web import photos
from sites.web.bare_photos import MOST_SCANS, Odd, bare, turn_in
from tests import large_photos


def drawing(mode: str) -> Image.Image:
    return Image.linear_gradient("L").resize((90, 60)).convert(mode)


def written(kind: str, mode: str, **more) -> bytes:
    out = io.BytesIO()
    drawing(mode).save(out, kind, **more)
    return out.getvalue()


EXIF = Image.Exif()
EXIF[0x0112], EXIF[0x010F] = 6, "Maker"
KINDS = [
    ("JPEG", "RGB", {"exif": EXIF, "comment": b"where"}),
    ("JPEG", "RGB", {"progressive": True, "restart_marker_rows": 1}),
    ("JPEG", "CMYK", {}),
    ("JPEG", "L", {"icc_profile": b"profile" * 20_000}),
    ("PNG", "RGBA", {"exif": EXIF}),
    ("PNG", "P", {"transparency": 3}),
    ("GIF", "P", {"transparency": 3, "comment": b"where"}),
    ("WEBP", "RGBA", {"exif": EXIF, "lossless": True}),
]


@pytest.mark.parametrize(("kind", "mode", "more"), KINDS)
def test_every_pixel_is_as_before(kind, mode, more):
    whole = written(kind, mode, **more)
    only = bare(whole)
    before, after = (Image.open(io.BytesIO(one)) for one in (whole, only.content))
    before.load()
    after.load()
    assert (after.mode, after.size) == (before.mode, before.size)
    assert after.info.get("transparency") == before.info.get("transparency")
    assert not ImageChops.difference(before.convert("RGBA"), after.convert("RGBA")).getbbox()
    if kind != "WEBP":  # of which the reader hands out nothing but pixels
        assert b"Maker" not in only.content and b"where" not in only.content
        assert b"profile" not in only.content
    assert only.orientation == (6 if "exif" in more else 1)


def test_a_photo_of_several_pictures_is_its_first():
    out = io.BytesIO()
    drawing("RGB").save(out, "MPO", save_all=True, append_images=[drawing("RGB").rotate(90)])
    assert Image.open(io.BytesIO(bare(out.getvalue()).content)).format == "JPEG"
    assert take(out.getvalue(), "both.jpg").media_type == "image/jpeg"


def test_more_scans_than_any_camera_writes_are_refused_before_one_is_unpacked(monkeypatch):
    monkeypatch.setattr(photos, "drawn", lambda picture: pytest.fail("it was unpacked"))
    with pytest.raises(Unfit, match=r"“rack.jpg” is put together of so many pieces"):
        take(large_photos.of_scans(MOST_SCANS + 1, side=80), "rack.jpg")


@pytest.mark.parametrize("turn", range(1, 9))
def test_the_turn_is_read_from_a_directory_of_either_order(turn):
    for order, mark in (("<", b"II*\0"), (">", b"MM\0*")):
        entry = struct.pack(order + "HHIHH", 0x0112, 3, 1, turn, 0)
        assert turn_in(mark + struct.pack(order + "IH", 8, 1) + entry) == turn


@pytest.mark.parametrize("cut", [0, 1, 7, 8, 9, 12, 20])
def test_half_a_directory_says_nothing(cut):
    assert turn_in(large_photos.directory(1000)[:cut]) == 1


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "GIF", "WEBP"])
def test_a_file_that_ends_anywhere_is_cut_without_an_error_of_ours(kind):
    whole = written(kind, "L" if kind == "JPEG" else "P" if kind == "GIF" else "RGB")
    for length in range(0, len(whole), 7):
        assert len(bare(whole[:length]).content) <= length + 2


def test_pieces_without_end_are_odd():
    with pytest.raises(Odd):
        bare(large_photos.gif_with_comment(200_000))
