"""Proofs: what is taken, what is made of it, where it lies, who gets it and how; values and their ranges."""

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from planner import work_out
from sites.actions import proofs
from sites.actions import stages as actions
from sites.actions.proofs import Unfit, folder, keep, path_of, take
from sites.actions.records import add_record, change_record, make_site
from sites.loading import read_site
from sites.models import Answer, Host, Proof
from sites.web import uploads

URL = "/at/larkfield/mill/"
ROOM = URL + "answer/room-seen"  # wants a photo


def picture(form="JPEG", size=(60, 30), mode="RGB", **more) -> bytes:
    """A small picture: its left half red, its right half blue."""
    made = Image.new("RGB", size, "blue")
    made.paste("red", (0, 0, size[0] // 2, size[1]))
    out = io.BytesIO()
    made.convert(mode).save(out, form, **more)
    return out.getvalue()


def with_everything_in_it() -> bytes:
    """A JPEG as a telephone makes it: where it was taken, by what, a remark, and something hung on behind."""
    exif = Image.Exif()
    exif[0x010F], exif[0x0110], exif[0x0112] = (
        "Telephone maker",
        "Telephone model",
        6,
    )  # turned by a quarter
    exif.get_ifd(0x8825).update({1: "N", 2: (48.0, 12.0, 30.0)})  # GPS
    return picture(exif=exif, comment=b"At the back door", quality=95) + b"HUNG-ON-BEHIND" * 9


def segments(content: bytes) -> list[int]:
    """The markers of a JPEG up to its picture data. Source: ISO/IEC 10918-1 annex B (from memory)."""
    assert content[:2] == b"\xff\xd8"
    at, found = 2, []
    while content[at] == 0xFF:
        found.append(content[at + 1])
        if content[at + 1] == 0xDA:
            return found
        at += 2 + int.from_bytes(content[at + 2 : at + 4], "big")
    raise AssertionError("no picture data")


# -- photos --------------------------------------------------------------------------------------


def test_nothing_of_a_photo_is_kept_but_its_picture():
    sent = with_everything_in_it()
    assert all(
        word in sent
        for word in (b"Exif", b"Telephone maker", b"At the back door", b"HUNG-ON-BEHIND")
    )
    taken = take(sent, "IMG_1.JPG")
    for content in (taken.content, taken.small):
        assert not any(
            word in content
            for word in (b"Exif", b"Telephone", b"back door", b"HUNG", b"ICC_PROFILE")
        )
        assert 0xE1 not in segments(content) and 0xFE not in segments(
            content
        )  # APP1 (EXIF, XMP), comment
        with Image.open(io.BytesIO(content)) as kept:
            assert not kept.getexif() and set(kept.info) <= {
                "jfif",
                "jfif_version",
                "jfif_unit",
                "jfif_density",
            }


def test_a_photo_is_turned_upright():
    """Orientation 6: the picture's first row is the photo's right side. Source: EXIF 2.32, tag 274 (from memory)."""
    taken = take(with_everything_in_it())
    assert (taken.width, taken.height) == (30, 60)
    with Image.open(io.BytesIO(taken.content)) as kept:
        above, below = kept.getpixel((15, 5)), kept.getpixel((15, 55))
    assert above[0] > 200 > 60 > above[2] and below[2] > 200 > 60 > below[0]


@pytest.mark.parametrize(
    ("form", "mode"),
    [
        ("PNG", "RGBA"),
        ("PNG", "P"),
        ("PNG", "L"),
        ("PNG", "LA"),
        ("PNG", "1"),
        ("PNG", "I;16"),
        ("JPEG", "CMYK"),
        ("JPEG", "L"),
        ("WEBP", "RGBA"),
        ("GIF", "P"),
    ],
)
def test_every_common_kind_of_picture_is_drawn_anew(form, mode):
    sent = picture(form, mode="L" if mode == "I;16" else mode)
    if mode == "I;16":
        out = io.BytesIO()
        Image.new("I;16", (60, 30), 30_000).save(out, "PNG")
        sent = out.getvalue()
    taken = take(sent)
    assert (taken.kind, taken.width, taken.height) == ("photo", 60, 30)
    assert taken.media_type == ("image/png" if form == "PNG" else "image/jpeg")
    with Image.open(io.BytesIO(taken.content)) as kept:
        assert kept.mode == "RGB" and kept.size == (60, 30)


def test_what_can_be_seen_through_is_white():
    out = io.BytesIO()
    Image.new("RGBA", (10, 10), (0, 0, 0, 0)).save(out, "PNG")
    with Image.open(io.BytesIO(take(out.getvalue()).content)) as kept:
        assert kept.getpixel((5, 5)) == (255, 255, 255)


def test_a_large_photo_is_made_smaller_and_gets_a_small_one():
    taken = take(picture(size=(4000, 1000)))
    assert (taken.width, taken.height) == (2400, 600)
    with Image.open(io.BytesIO(taken.small)) as small:
        assert small.size == (320, 80)
    assert Proof(width=taken.width, height=taken.height).small_size == (320, 80)


# -- what is refused -----------------------------------------------------------------------------

SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'
HTML = b"<!DOCTYPE html><html><body onload=alert(1)>"
PDF = b"%PDF-1.4\n1 0 obj<<>>endobj\ntrailer<<>>\n%%EOF\n"


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (SVG, "not a photo"),
        (b"<?xml version='1.0'?>" + SVG, "not a photo"),
        (HTML, "not a photo"),
        (b"\xef\xbb\xbf  " + HTML, "not a photo"),
        (b"plain at first\n< script>alert(1)</script>", "not a photo"),
        (b"", "is empty"),
        (b"PK\x03\x04" + b"\x00" * 90, "not a photo"),
        (b"MZ\x90\x00" + b"\x01" * 90, "not a photo"),
        (picture()[:200], "not a photo"),
        (picture("PNG")[:60], "is broken"),
        (b"%PDF-1.4 no end", None),
        (b"GIF89a" + HTML, "not a photo"),
        ("prüfung".encode("latin-1"), "not a photo"),
        (picture("BMP"), "not a photo"),
        (picture(size=(900, 600))[:-2000], "is broken"),
        (picture("TIFF"), "not a photo"),
        (b"#!/bin/sh\nrm -rf /\x00", "not a photo"),
    ],
)
@pytest.mark.parametrize("name", ["page.jpg", "photo.png", "x.svg"])
def test_its_content_decides_whatever_its_name_says(content, says, name):
    if says is None:  # words alone: kept as words, never as the PDF it is called
        assert take(content, name).media_type == "text/plain"
        return
    with pytest.raises(Unfit, match=says):
        take(content, name)


@pytest.mark.parametrize(
    ("content", "media_type"),
    [
        (PDF, "application/pdf"),
        ("Prüfung: 3 < 4, „gut“\n\tEnde".encode(), "text/plain"),
        (b"a,b\r\n1,2\r\n", "text/plain"),
    ],
)
def test_a_pdf_or_plain_words_are_kept_as_they_are(content, media_type):
    taken = take(content, "report.exe")
    assert (taken.kind, taken.media_type, taken.content, taken.small) == (
        "file",
        media_type,
        content,
        b"",
    )


def test_too_large_is_refused(monkeypatch):
    monkeypatch.setattr(proofs, "MOST_BYTES", 500)
    with pytest.raises(Unfit, match="larger than"):
        take(picture("PNG") + b"x" * 500, "a.png")


def test_a_picture_of_too_many_pixels_is_never_unpacked():
    out = io.BytesIO()
    Image.new("1", (20_000, 20_000)).save(out, "PNG")  # 400 million pixels in a few kilobytes
    assert len(out.getvalue()) < 100_000
    with pytest.raises(Unfit, match="pixels"):
        take(out.getvalue())


@pytest.mark.parametrize(
    ("name", "plain"),
    [
        ("../../etc/passwd", "passwd"),
        ("..\\..\\boot.ini", "boot.ini"),
        ("C:\\x\\y.jpg", "y.jpg"),
        ("..", ""),
        ("a\x00b\r\nSet-Cookie: x.png", "abSet-Cookie x.png"),
        ('"><script>.png', "script.png"),
        ("ü" * 300, "ü" * 100),
        (".htaccess", "htaccess"),
        ("Rack, front (2).jpg", "Rack, front (2).jpg"),
    ],
)
def test_a_name_is_only_a_name(name, plain):
    assert proofs.plain_name(name) == plain


# -- kept and handed out -------------------------------------------------------------------------


@pytest.fixture
def given(site, people):
    """Somebody's answer with a photo, a PDF and a text."""
    answer = actions.give_answer(
        by=people["editor"], site=site, key="room-seen", state="proven", proof="Seen."
    )
    return keep(
        answer,
        [take(picture(), "../rack.jpeg"), take(PDF, "report.html"), take(b"words", "log.sh")],
    )


def test_it_lies_under_its_own_digest_in_the_sites_folder(site, given):
    for proof in given:
        assert proof.place.startswith(f"{site.pk}/") and ".." not in proof.place
        assert (folder() / proof.place).resolve().is_relative_to(folder().resolve())
    assert (
        given[0].name == "rack.jpeg"
        and path_of(site, given[0].place).read_bytes()[:2] == b"\xff\xd8"
    )


def test_the_same_photo_twice_is_one_file(site, people, given):
    before = set((folder() / str(site.pk)).rglob("*"))
    again = keep(given[0].answer, [take(picture(), "other.jpg")])
    assert again[0].place == given[0].place
    assert set((folder() / str(site.pk)).rglob("*")) == before


def body(response) -> bytes:
    return b"".join(response.streaming_content)


@pytest.mark.parametrize(
    ("number", "media_type", "disposition"),
    [
        (0, "image/jpeg", 'inline; filename="rack.jpg"'),
        (1, "application/pdf", 'attachment; filename="report.pdf"'),
        (2, "text/plain", 'attachment; filename="log.txt"'),
    ],
)
def test_it_is_handed_out_so_that_nothing_of_it_can_run(
    given, people, enter, number, media_type, disposition
):
    response = enter(people["reader"]).get(f"{URL}proof/{given[number].pk}")
    assert response.status_code == 200 and body(response)
    assert response["Content-Type"].partition(";")[0] == media_type
    assert response["Content-Disposition"] == disposition
    assert response["X-Content-Type-Options"] == "nosniff"
    policy = response["Content-Security-Policy"]
    assert "default-src 'none'" in policy and "sandbox" in policy and "allow-scripts" not in policy
    assert (
        "private" in response["Cache-Control"]
        and response["Cross-Origin-Resource-Policy"] == "same-origin"
    )


def test_the_small_one_is_smaller(given, people, enter):
    client = enter(people["reader"])
    assert body(client.get(f"{URL}proof/{given[0].pk}/small"))[:2] == b"\xff\xd8"
    assert client.get(f"{URL}proof/{given[1].pk}/small").status_code == 404


def test_it_is_no_others_to_see(site, given, people, staff, customer, enter):
    assert enter(people["outsider"]).get(f"{URL}proof/{given[0].pk}").status_code == 404
    make_site(by=staff, customer=customer, code="barn", name="Barn")
    assert enter(people["lead"]).get(f"/at/larkfield/barn/proof/{given[0].pk}").status_code == 404
    assert "/sign-in/" in enter(None).get(f"{URL}proof/{given[0].pk}")["Location"]


@pytest.mark.parametrize("place", ["../secret.jpg", "/etc/passwd", "", "99999/aa/x.jpg", "."])
def test_a_place_outside_the_sites_folder_is_not_there(site, given, people, enter, place):
    (folder() / "secret.jpg").write_bytes(b"secret")
    (folder() / "99999" / "aa").mkdir(parents=True, exist_ok=True)
    (folder() / "99999" / "aa" / "x.jpg").write_bytes(b"another site's")
    Proof.objects.filter(pk=given[0].pk).update(place=place)
    assert enter(people["reader"]).get(f"{URL}proof/{given[0].pk}").status_code == 404


def test_a_kind_that_nobody_wrote_here_is_not_served(given, people, enter):
    Proof.objects.filter(pk=given[2].pk).update(media_type="text/html")
    assert enter(people["reader"]).get(f"{URL}proof/{given[2].pk}").status_code == 404


# -- sent with an answer -------------------------------------------------------------------------


def send(client, url, state, *files, note="", **more):
    names = {"files": [SimpleUploadedFile(name, content) for name, content in files]}
    return client.post(url, {"state": state, "note": note, "seen": 0, **names, **more})


def test_a_photo_is_wanted_and_sent(site, people, enter):
    client = enter(people["editor"])
    refused = send(client, ROOM, "proven", note="I was there.")
    assert refused.status_code == 422 and "Add a photo" in refused.content.decode()
    assert (
        send(
            client, ROOM, "proven", ("rack.jpg", with_everything_in_it()), note="I was there."
        ).status_code
        == 302
    )
    proof = Proof.objects.get()
    assert (proof.kind, proof.answer.state, proof.site_id) == ("photo", "proven", site.pk)
    assert b"Telephone" not in path_of(site, proof.place).read_bytes()
    page = client.get(ROOM).content.decode()
    assert f"{URL}proof/{proof.pk}/small" in page and "rack.jpg" in page
    assert (
        work_out(read_site(site)).stages.checks["room-seen"].answer.proof
        == "I was there.; 1 photo or file"
    )


@pytest.mark.parametrize(
    "bad", [("x.svg", SVG), ("x.jpg", HTML), ("x.jpg", b""), ("x.zip", b"PK\x03\x04\x00")]
)
def test_one_bad_file_and_nothing_is_kept(site, people, enter, bad):
    response = send(
        enter(people["editor"]), ROOM, "proven", ("good.png", picture("PNG")), bad, note="Seen."
    )
    page = response.content.decode()
    assert response.status_code == 422 and "There is a problem" in page and "Seen." in page
    assert not Answer.objects.exists() and not Proof.objects.exists()


def test_too_many_files(site, people, enter):
    many = [(f"{n}.png", picture("PNG")) for n in range(9)]
    response = send(enter(people["editor"]), ROOM, "proven", *many)
    assert response.status_code == 422 and "At most 8" in response.content.decode()


@pytest.mark.parametrize(("name", "most"), [("MOST_BYTES", 100), ("MOST_BYTES_TOGETHER", 300)])
def test_too_large_is_read_past_and_said(site, people, enter, monkeypatch, name, most):
    """The handler stands before those that store: what is too large is in no memory and on no disk."""
    monkeypatch.setattr(uploads, name, most)
    response = send(
        enter(people["editor"]),
        ROOM,
        "proven",
        ("rack.png", picture("PNG") + b"x" * 500),
        note="Seen.",
    )
    page = response.content.decode()
    assert response.status_code == 422 and "too large" in page and "Seen." in page


def test_a_password_in_a_note_is_refused(site, people, enter):
    response = send(
        enter(people["editor"]), URL + "answer/scope-agreed", "proven", note="password: hunter2"
    )
    assert response.status_code == 422 and "never keeps secrets" in response.content.decode()


# -- values --------------------------------------------------------------------------------------

CLOCKS = URL + "answer/clocks-agree"  # from 0 to 5 s, as the assumption has it


@pytest.mark.parametrize(
    ("state", "measured", "code"),
    [
        ("proven", "", 422),
        ("proven", "soon", 422),
        ("proven", "0,9", 302),
        ("proven", "5 s", 302),
        ("proven", "301", 422),
        ("failed", "301", 302),
        ("failed", "", 422),
        ("trust", "", 302),
    ],
)
def test_a_value_outside_its_range_is_failed_not_proven(site, people, enter, state, measured, code):
    response = send(enter(people["editor"]), CLOCKS, state, measured=measured)
    assert response.status_code == code
    if code == 302 and measured:
        kept = Answer.objects.get()
        assert (kept.measured, kept.unit, kept.low, kept.high) == (measured, "s", 0, 5)
    if measured == "301" and state == "proven":
        assert "that is failed, not proven" in response.content.decode()


@pytest.mark.parametrize(
    ("measured", "words"), [("0.9", "0.9 s"), ("0.9 s", "0.9 s"), ("0.9 S", "0.9 S"), ("", "")]
)
def test_a_unit_is_said_once(measured, words):
    assert Answer(measured=measured, unit="s").measured_words == words


def test_two_people_may_disagree_and_both_stay(site, people, enter):
    send(enter(people["editor"]), CLOCKS, "proven", measured="4", note="Read at nine.")
    first = Answer.objects.get()
    send(
        enter(people["lead"]), CLOCKS, "failed", measured="420", note="Read at ten.", seen=first.pk
    )
    page = enter(people["reader"]).get(CLOCKS).content.decode()
    assert "They do not agree" in page and "Read at nine." in page and "Read at ten." in page
    send(
        enter(people["lead"]),
        CLOCKS,
        "proven",
        measured="3",
        seen=Answer.objects.get(newest=True).pk,
    )
    page = enter(people["reader"]).get(CLOCKS).content.decode()
    assert "They do not agree" not in page and Answer.objects.count() == 3


# -- the value it was given for ------------------------------------------------------------------


@pytest.fixture
def host(site, staff):
    return add_record(
        by=staff, site=site, kind="host", values={"name": "mill-h1", "address": "10.44.0.11"}
    )


def move(staff, host):
    edits = Host.objects.get().edits
    change_record(
        by=staff, kind="host", pk=host.pk, opened_at=edits, values={"address": "10.44.0.12"}
    )


def test_when_the_plans_value_moves_the_check_is_open_again(site, staff, people, host, enter):
    key = f"host-reachable@{host.anchor}"
    client = enter(people["editor"])
    page = client.get(f"{URL}answer/{key}").content.decode()
    assert 'name="value" value="10.44.0.11"' in page
    send(
        client,
        f"{URL}answer/{key}",
        "proven",
        measured="release 8.2 at 10.44.0.11",
        value="10.44.0.11",
    )
    assert work_out(read_site(site)).stages.checks[key].state == "proven"
    move(staff, host)
    check = work_out(read_site(site)).stages.checks[key]
    assert (check.state, check.answer.state) == ("open", "proven")
    for url in (f"{URL}answer/{key}", URL + "stages/3/", f"{URL}run/3/check/{key}/"):
        assert (
            "proven for 10.44.0.11, the plan says 10.44.0.12 now"
            in client.get(url).content.decode()
        )


def test_an_answer_from_a_page_of_yesterday_is_for_yesterdays_value(
    site, staff, people, host, enter
):
    """The page showed one address; the plan moved before it was sent: it counts for what was shown."""
    key = f"host-reachable@{host.anchor}"
    move(staff, host)
    send(
        enter(people["editor"]), f"{URL}answer/{key}", "proven", measured="8.2", value="10.44.0.11"
    )
    assert (
        work_out(read_site(site)).stages.checks[key].moved_words.startswith("proven for 10.44.0.11")
    )


def test_answers_from_before_values_were_kept_stand(site, staff, host):
    key = f"host-reachable@{host.anchor}"
    actions.give_answer(by=staff, site=site, key=key, state="proven", proof="seen")
    assert Answer.objects.get().value is None
    assert work_out(read_site(site)).stages.checks[key].state == "proven"


# -- many excused, and turning live --------------------------------------------------------------

SEVERAL = URL + "stages/1/excuse"


def test_many_are_excused_for_one_reason(site, people, enter):
    client = enter(people["lead"])
    page = client.get(SEVERAL).content.decode()
    assert page.count('type="checkbox"') == work_out(read_site(site)).stages.stage(1).total
    assert client.post(SEVERAL, {"check": ["scope-agreed", "room-seen"]}).status_code == 422
    assert client.post(SEVERAL, {"reason": "A trial bench."}).status_code == 422
    sent = {"check": ["scope-agreed", "room-seen"], "reason": "A trial bench.", "state": "proven"}
    assert client.post(SEVERAL, sent).status_code == 302
    assert [
        (one.check_key, one.state, one.proof) for one in Answer.objects.order_by("check_key")
    ] == [
        ("room-seen", "excused", "A trial bench."),
        ("scope-agreed", "excused", "A trial bench."),
    ]


def test_what_was_answered_meanwhile_is_passed_over(site, people, enter):
    actions.give_answer(
        by=people["editor"], site=site, key="room-seen", state="failed", proof="Too small."
    )
    sent = {"check": ["scope-agreed", "room-seen"], "reason": "A trial bench.", "seen-room-seen": 0}
    page = enter(people["lead"]).post(SEVERAL, sent, follow=True).content.decode()
    assert "Excused: 1 check." in page and "was answered meanwhile" in page
    assert Answer.objects.get(check_key="room-seen").state == "failed"


def test_on_a_live_site_only_a_lead_excuses_many(site, people, enter):
    client = enter(people["editor"])
    assert "only a lead" in client.get(SEVERAL).content.decode()
    response = client.post(SEVERAL, {"check": ["scope-agreed"], "reason": "No."})
    assert response.status_code == 422 and not Answer.objects.exists()
    site.purpose = "trial"
    site.save()
    assert (
        client.post(SEVERAL, {"check": ["scope-agreed"], "reason": "A bench."}).status_code == 302
    )


def test_turning_live_opens_excusals_that_no_lead_gave(site, people, staff):
    site.purpose = "trial"
    site.save()
    by = {
        "scope-agreed": people["editor"],
        "room-seen": people["lead"],
        "people-counted": staff,
        "network-keys": None,
    }
    for key, person in by.items():
        actions.give_answer(by=person, site=site, key=key, state="excused", proof="A bench.")
    actions.give_answer(by=people["lead"], site=site, key="building-keys", state="trust")
    actions.give_answer(
        by=people["lead"], site=site, key="directory-keys", state="proven", proof="seen"
    )
    site.refresh_from_db()
    change_record(
        by=staff, kind="site", pk=site.pk, opened_at=site.edits, values={"purpose": "live"}
    )
    newest = {
        one.check_key: (one.state, one.reopened) for one in Answer.objects.filter(newest=True)
    }
    assert newest == {
        "scope-agreed": ("open", True),
        "network-keys": ("open", True),
        "building-keys": ("open", True),
        "room-seen": ("excused", False),
        "people-counted": ("excused", False),
        "directory-keys": ("proven", False),
    }
    assert Answer.objects.count() == 9  # nothing is lost
