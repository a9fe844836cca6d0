"""Photos cost no more memory and time than a server can spare, and nothing typed is lost when one is refused."""

import io
import threading
import time

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from sites.actions import proofs
from sites.actions.proofs import Unfit, take, take_all
from sites.models import Answer, Proof
from sites.web import photos
from tests import large_photos

URL = "/at/larkfield/mill/"
ROOM = URL + "answer/room-seen"


def png_of(*sides: int) -> bytes:
    """A small file of many pixels."""
    out = io.BytesIO()
    Image.new("RGBA", sides).save(out, "PNG")
    return out.getvalue()


# -- too many pixels ------------------------------------------------------------------------------


def test_too_many_pixels_are_never_unpacked(monkeypatch):
    """64 million pixels in 249 kB took 1,140 MB and 6.7 s."""
    sent = png_of(8000, 8000)
    assert len(sent) < 260_000
    monkeypatch.setattr(photos, "drawn", lambda picture: pytest.fail("it was unpacked"))
    with pytest.raises(
        Unfit, match=r"“rack.png” has 64 million pixels; at most 25 million are taken"
    ):
        take(sent, "rack.png")


@pytest.mark.parametrize(
    ("sides", "taken"), [((5000, 5000), True), ((5001, 5000), False), ((25_000, 1001), False)]
)
def test_the_limit_is_25_million(sides, taken, monkeypatch):
    monkeypatch.setattr(photos, "drawn", lambda picture: Image.new("RGB", (9, 9)))
    if taken:
        assert take(png_of(*sides)).width == 9
    else:
        with pytest.raises(Unfit, match="million pixels"):
            take(png_of(*sides))


def test_of_a_kind_that_costs_more_fewer_pixels_are_taken():
    with pytest.raises(Unfit, match=r"at most 10 million are taken in a WEBP file"):
        take(large_photos.saved("WEBP", "RGB", (3200, 3200), quality=1))


# -- a budget for one answer ---------------------------------------------------------------------


def uploads(content: bytes, count: int) -> list[SimpleUploadedFile]:
    return [SimpleUploadedFile(f"{n}.png", content) for n in range(count)]


def test_eight_at_the_limit_are_refused_before_one_is_unpacked(monkeypatch):
    monkeypatch.setattr(photos, "drawn", lambda picture: pytest.fail("it was unpacked"))
    with pytest.raises(Unfit, match=r"200 million pixels together; at most 100 million"):
        take_all(uploads(png_of(5000, 5000), 8))


def test_eight_photos_of_a_telephone_are_taken(monkeypatch):
    monkeypatch.setattr(photos, "drawn", lambda picture: Image.new("RGB", (9, 9)))
    assert len(take_all(uploads(png_of(4080, 3060), 8))) == 8


def test_one_too_large_is_told_by_its_name_and_not_by_the_sum():
    with pytest.raises(Unfit, match=r"“0.png” has 64 million pixels"):
        take_all(uploads(png_of(8000, 8000), 2))


def test_one_at_a_time_whatever_the_threads_do(monkeypatch):
    at_once, most = [], []

    def slowly(picture):
        at_once.append(1)
        most.append(len(at_once))
        time.sleep(0.02)
        at_once.pop()
        return Image.new("RGB", (9, 9))

    monkeypatch.setattr(photos, "drawn", slowly)
    monkeypatch.setattr(photos, "_PLACES_TO_WAIT", threading.Semaphore(8))
    sent = png_of(10, 10)
    threads = [threading.Thread(target=take, args=(sent,)) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(most) == 8 and max(most) == 1


def test_who_waits_too_long_is_told(monkeypatch):
    monkeypatch.setattr(photos, "WAIT", 0.01)
    with photos.in_turn(), pytest.raises(Unfit, match="send it again in a minute"):
        take(png_of(10, 10))


@pytest.fixture
def all_places_taken(monkeypatch):
    """Somebody's photos are looked at, and nobody else may wait."""
    monkeypatch.setattr(photos, "_PLACES_TO_WAIT", threading.Semaphore(0))
    monkeypatch.setattr(photos, "WAIT", 600)  # a wait would be noticed
    with photos.in_turn():
        yield


def test_few_wait_and_the_others_hold_no_thread(monkeypatch):
    """Of five at once one is looked at and two wait; two are told at once to come again."""
    drawing, go_on, outcomes = threading.Event(), threading.Event(), []

    def slowly(picture):
        drawing.set()
        assert go_on.wait(20)
        return Image.new("RGB", (9, 9))

    def send():
        try:
            take_all(uploads(png_of(10, 10), 2))
            outcomes.append("kept")
        except proofs.Later:
            outcomes.append("later")

    monkeypatch.setattr(photos, "drawn", slowly)
    threads = [threading.Thread(target=send) for _ in range(5)]
    threads[0].start()
    assert drawing.wait(20)
    for thread in threads[1:]:
        thread.start()
    end = time.monotonic() + 20
    while len(outcomes) < 2 and time.monotonic() < end:
        time.sleep(0.01)
    assert outcomes == ["later", "later"]
    go_on.set()
    for thread in threads:
        thread.join(20)
    assert sorted(outcomes) == ["kept", "kept", "kept", "later", "later"]


@pytest.mark.parametrize("url", [ROOM, URL + "run/1/check/room-seen/"])
def test_who_finds_no_place_keeps_what_was_typed(url, all_places_taken, site, people, enter):
    photo = SimpleUploadedFile("rack.png", png_of(20, 20))
    sent = {"state": "failed", "note": "Water under the rack.", "seen": 0, "files": [photo]}
    response = enter(people["editor"]).post(url, sent)
    page = response.content.decode()
    assert response.status_code == 422
    assert "Water under the rack." in page and "send it again in a minute" in page


def test_a_device_is_told_to_send_it_again_by_itself(all_places_taken, site, people, enter):
    photo = SimpleUploadedFile("rack.png", png_of(20, 20))
    sent = {"state": "failed", "note": "Water.", "seen": 0, "photos": [photo]}
    url = URL + "run/1/check/room-seen/"
    response = enter(people["editor"]).post(url, sent, headers={"Accept": "application/json"})
    assert response.status_code == 503 and int(response["Retry-After"]) > 0


def test_words_and_papers_wait_for_nobodys_photos(all_places_taken):
    files = [SimpleUploadedFile("a.txt", b"words"), SimpleUploadedFile("b.pdf", b"%PDF-1.4 %%EOF")]
    assert len(take_all(files)) == 2


# -- what a photo looks like afterwards ----------------------------------------------------------


def kept(sent: bytes) -> Image.Image:
    return Image.open(io.BytesIO(take(sent).content))


def test_bands_leave_no_seam():
    """A photo gone through in bands, and the same made smaller in one piece."""
    whole = Image.radial_gradient("L").resize((4800, 5000)).convert("RGB")
    out = io.BytesIO()
    whole.save(out, "PNG")
    wanted = whole.reduce(2)
    wanted.thumbnail((2400, 2400))
    found = kept(out.getvalue())
    assert found.size == wanted.size
    apart = [abs(a - b) for a, b in zip(found.tobytes(), wanted.tobytes(), strict=True)]
    assert max(apart) <= (1 if found.format == "PNG" else 12)


def test_16_bits_of_grey_keep_their_shade():
    out = io.BytesIO()
    Image.new("I;16", (60, 30), 0x8000).save(out, "PNG")
    assert kept(out.getvalue()).getpixel((5, 5)) == (128, 128, 128)


def test_see_through_edges_mix_with_white_alone():
    """Red that nobody sees does not show: half of it see-through is white."""
    made = Image.new("RGBA", (4800, 4800), (255, 0, 0, 0))
    made.paste((0, 0, 255, 255), (0, 0, 2401, 4800))
    out = io.BytesIO()
    made.save(out, "PNG", compress_level=1)
    red, green, blue = kept(out.getvalue()).getpixel((1200, 1200))
    assert red == green == 127 or red == green == 128
    assert blue == 255


def test_a_see_through_palette_is_white():
    made = Image.new("P", (10, 10), 1)
    made.putpalette([0, 0, 0, 255, 0, 0])
    out = io.BytesIO()
    made.save(out, "PNG", transparency=1)
    assert kept(out.getvalue()).getpixel((5, 5)) == (255, 255, 255)


# -- nothing typed is lost -----------------------------------------------------------------------


@pytest.mark.parametrize("url", [ROOM, URL + "run/1/check/room-seen/"])
def test_a_refused_photo_leaves_what_was_typed(site, people, enter, url):
    photo = SimpleUploadedFile("rack.png", png_of(8000, 8000))
    sent = {"state": "failed", "note": "Water under the rack.", "seen": 0, "files": [photo]}
    response = enter(people["editor"]).post(url, sent)
    page = response.content.decode()
    assert response.status_code == 422
    assert (
        "Water under the rack." in page
        and "64 million pixels" in page
        and "There is a problem" in page
    )
    assert url != ROOM or 'value="failed" checked' in page
    assert not Answer.objects.exists() and not Proof.objects.exists()


def test_a_run_sheet_is_told_so_in_its_own_words(site, people, enter):
    photo = SimpleUploadedFile("rack.png", png_of(8000, 8000))
    sent = {"state": "failed", "note": "Water.", "seen": 0, "photos": [photo]}
    url = URL + "run/1/check/room-seen/"
    response = enter(people["editor"]).post(url, sent, headers={"Accept": "application/json"})
    assert response.status_code == 422 and "64 million pixels" in response.json()["refused"]


def test_the_page_says_what_may_be_sent(site, people, enter):
    assert proofs.MOST_FILES == 8 and proofs.MOST_BYTES == 15 * 2**20
    page = enter(people["editor"]).get(ROOM).content.decode()
    assert "at most 8, each up to 15 MB and 25 million pixels" in page
