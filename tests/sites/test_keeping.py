"""A proof's file is on the disk, whole, before a row speaks of it; a customer's proofs have bounded room."""

import os
import threading
import time

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, connections

from planner import work_out
from sites.actions import proofs, stages
from sites.actions.customers import make_customer
from sites.actions.locking import hold
from sites.actions.proofs import Taken, Unfit, folder, keep, room_left, room_of
from sites.actions.records import make_site
from sites.actions.stages import Overtaken, answer_check, give_answer
from sites.loading import read_site
from sites.models import Answer, Proof
from sites.web import durable
from sites.web.preparing import sweep
from tests.people import house_staff

ROOM = "/at/larkfield/mill/answer/room-seen"
WORDS = b"What the technician wrote down."


def words(content: bytes = WORDS) -> Taken:
    return Taken("file", "log.txt", "text/plain", content)


@pytest.fixture
def answer(site, people):
    return give_answer(
        by=people["editor"], site=site, key="room-seen", state="proven", proof="Seen."
    )


# -- the databases -------------------------------------------------------------------------------


@pytest.mark.django_db
def test_a_commit_waits_for_the_disk():
    """SQLite: 2 is FULL. PostgreSQL: anything but "off" waits for the disk. Sources: SQLite's page on PRAGMA
    synchronous; PostgreSQL 15, 30.3 Asynchronous Commit."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SHOW synchronous_commit")
            assert cursor.fetchone()[0] != "off"
        else:
            cursor.execute("PRAGMA synchronous")
            assert cursor.fetchone()[0] == 2


@pytest.mark.django_db
def test_a_server_that_would_not_wait_is_told_to():
    if connection.vendor != "postgresql":
        durable.commit_waits(None, connection)  # nothing to say to the embedded one
        return
    with connection.cursor() as cursor:
        cursor.execute("SET synchronous_commit = off")
        durable.commit_waits(None, connection)
        cursor.execute("SHOW synchronous_commit")
        assert cursor.fetchone()[0] == "on"


# -- files ---------------------------------------------------------------------------------------


def test_first_the_file_then_its_name_then_the_row(answer, monkeypatch):
    done = []
    sync, replace, create = os.fsync, os.replace, Proof.objects.create

    def synced(handle):
        done.append(("fsync", os.path.basename(os.readlink(f"/proc/self/fd/{handle}"))))
        sync(handle)

    monkeypatch.setattr(durable.os, "fsync", synced)
    monkeypatch.setattr(
        durable.os, "replace", lambda *names: (done.append(("name", "")), replace(*names))
    )
    monkeypatch.setattr(
        Proof.objects, "create", lambda **told: (done.append(("row", "")), create(**told))[1]
    )
    kept = keep(answer, [words()])[0]
    site, pair, _ = kept.place.split("/")
    first = done.pop(0)
    assert first[0] == "fsync" and first[1].startswith(durable.HALF)
    assert done == [
        ("name", ""),
        ("fsync", pair),
        ("fsync", site),
        ("fsync", folder().name),
        ("fsync", folder().parent.name),
        ("row", ""),
    ]


@pytest.mark.parametrize("there", [b"", WORDS[:9], WORDS + b" And more.", WORDS.swapcase()])
def test_what_is_there_is_not_believed_by_its_name(answer, there):
    place = keep(answer, [words()])[0].place
    (folder() / place).write_bytes(there)
    again = keep(answer, [words()])[0]
    assert again.place == place and (folder() / place).read_bytes() == WORDS


def test_what_vanished_is_written_again(answer):
    place = keep(answer, [words()])[0].place
    (folder() / place).unlink()
    keep(answer, [words()])
    assert (folder() / place).read_bytes() == WORDS


def test_a_full_disk_leaves_no_row_and_no_half_file(site, people, enter, monkeypatch):
    def full(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(durable.os, "fsync", full)
    client = enter(people["editor"])
    sent = {
        "state": "proven",
        "note": "Water under the rack.",
        "seen": 0,
        "files": [SimpleUploadedFile("a.txt", b"never kept")],
    }
    page = client.post(ROOM, sent)
    text = page.content.decode()
    assert page.status_code == 422 and "Water under the rack." in text
    assert "The disk of the house takes no more" in text and "No space left on device" in text
    assert not Answer.objects.exists() and not Proof.objects.exists()
    assert not list((folder() / str(site.pk)).rglob(f"{durable.HALF}*"))


def test_a_device_keeps_what_a_full_disk_does_not_take(site, people, enter, monkeypatch):
    def full(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(durable.os, "fsync", full)
    url = "/at/larkfield/mill/run/1/check/room-seen/"
    sent = {"state": "proven", "note": "Seen.", "seen": 0}
    sent["photos"] = [SimpleUploadedFile("a.txt", b"never kept")]
    answered = enter(people["editor"]).post(url, sent, headers={"Accept": "application/json"})
    assert answered.status_code == 503 and int(answered["Retry-After"]) > 0


def send(by, site, *taken: Taken, **more):
    """Answers a check with files, as a page does."""
    check = work_out(read_site(site)).stages.checks["room-seen"]
    told = {"role": "lead", "check": check, "state": "proven", "proof": "Seen.", **more}
    return answer_check(by=by, site=site, taken=taken, **told)


@pytest.fixture
def synced(monkeypatch):
    """Every path that is waited for until it is on the disk, and whether the database is locked meanwhile."""
    done, sync = [], os.fsync
    locked = {"now": False}

    def noted(handle):
        path = os.readlink(f"/proc/self/fd/{handle}")
        done.append((path, locked["now"]))
        sync(handle)

    def held(site):
        locked["now"] = True
        return hold(site)

    monkeypatch.setattr(durable.os, "fsync", noted)
    monkeypatch.setattr(stages, "hold", held)
    return done


def test_nobody_waits_for_the_disk_behind_a_lock(site, people, synced):
    photo = Taken("photo", "rack.jpg", "image/jpeg", b"x" * 1000, small=b"y" * 100)
    send(people["editor"], site, photo, words())
    assert synced and not [path for path, locked in synced if locked]
    assert Proof.objects.count() == 2


def test_each_folder_is_waited_for_once(site, people, synced):
    taken = [words(b"file %d" % number) for number in range(8)]
    send(people["editor"], site, *taken)
    files = [path for path, _ in synced if durable.HALF in path]
    folders = [path for path, _ in synced if durable.HALF not in path]
    assert len(files) == 8 and len(folders) == len(set(folders))


def test_what_was_refused_leaves_no_file(site, people, settings, tmp_path):
    settings.PROOFS = tmp_path
    send(people["editor"], site, words(b"stays"))
    with pytest.raises(Overtaken):
        send(people["editor"], site, words(b"stays"), words(b"goes"), seen=0)
    kept = [path.read_bytes() for path in (folder() / str(site.pk)).rglob("*.txt")]
    assert kept == [b"stays"]


def test_what_another_took_away_meanwhile_is_laid_down_again(site, people, monkeypatch):
    """Two send the same file, and the one who is refused takes it away before the other comes to note it."""
    laid = proofs.lay_down

    def and_gone(site, taken):
        places = laid(site, taken)
        proofs.let_go(site, places)
        return places

    monkeypatch.setattr(stages, "lay_down", and_gone)
    send(people["editor"], site, words())
    assert (folder() / Proof.objects.get().place).read_bytes() == WORDS


def test_half_files_of_the_killed_are_swept_and_young_ones_stay(site, people):
    place = folder() / send(people["editor"], site, words()).proofs.get().place
    old, young = (place.parent / f"{durable.HALF}{name}" for name in ("old", "young"))
    for path in (old, young):
        path.write_bytes(b"half")
    before = time.time() - durable.HALF_SECONDS - 1
    os.utime(old, (before, before))
    os.utime(place, (before, before))
    sweep()
    assert not old.exists() and young.exists() and place.exists()
    young.unlink()


# -- room ----------------------------------------------------------------------------------------


def test_how_much_a_customer_may_keep(customer, settings):
    settings.PROOF_QUOTA_MIB = 7
    assert room_left(customer) == 7 * 2**20
    customer.proof_mib = 3
    assert room_left(customer) == 3 * 2**20
    customer.proof_mib = 0
    assert room_left(customer) == 0


def test_small_pictures_count_and_the_same_file_counts_once(customer, answer, people):
    photo = Taken(
        "photo", "rack.jpg", "image/jpeg", b"x" * 1000, small=b"y" * 100, width=9, height=9
    )
    keep(answer, [photo, words(b"z" * 10)])
    assert room_of(customer).used == 1110
    keep(answer, [photo])
    assert room_of(customer).used == 1110
    assert (
        room_of(make_customer(by=people["lead"], values={"name": "Oak", "code": "oak"})).used == 0
    )


def test_a_removed_site_still_takes_room(customer, site, answer, staff):
    from sites.actions.records import remove_site

    keep(answer, [words()])
    remove_site(by=staff, site=site)
    assert room_of(customer).used == len(WORDS)


@pytest.mark.parametrize("url", [ROOM, "/at/larkfield/mill/run/1/check/room-seen/"])
def test_what_has_no_room_is_refused_and_nothing_typed_is_lost(site, customer, people, enter, url):
    customer.proof_mib = 0
    customer.save()
    client = enter(people["editor"])
    sent = {"state": "proven", "note": "Water under the rack.", "seen": 0}
    page = client.post(url, {**sent, "files": [SimpleUploadedFile("a.txt", WORDS)]})
    text = page.content.decode()
    assert page.status_code == 422 and "Water under the rack." in text
    assert (
        "take 0 MB of 0 MB" in text
        and "needs 1 MB more" in text
        and "House staff can give more room" in text
    )
    assert not Answer.objects.exists() and not Proof.objects.exists()
    assert (
        client.post(url, {**sent, "state": "failed"}).status_code == 302
    )  # without the file it is taken


def test_the_customers_page_says_how_much_it_takes(customer, answer, people, enter):
    keep(answer, [words(b"z" * 3 * 2**20)])
    page = enter(people["reader"]).get("/at/larkfield/").content.decode()
    assert "Photos and files kept as proof take 3 MB of 4,096 MB." in page


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(
    connection.vendor != "postgresql",
    reason="the embedded database has one writer at a time anyway",
)
def test_at_two_sites_at_once_they_do_not_run_over():
    staff = house_staff()
    customer = make_customer(
        by=staff, values={"name": "Larkfield", "code": "larkfield", "proof_mib": 3}
    )
    sites = [make_site(by=staff, customer=customer, code=f"s{n}", name=f"S{n}") for n in range(6)]
    answers = [give_answer(by=staff, site=one, key="room-seen", state="proven") for one in sites]
    ready, refused = threading.Barrier(6), []

    def send(answer, n):
        try:
            ready.wait(10)
            keep(answer, [words(bytes([65 + n]) * 2**20)])
        except Unfit:
            refused.append(n)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=send, args=(one, n)) for n, one in enumerate(answers)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert room_of(customer) == proofs.Room(3 * 2**20, 3 * 2**20)
    assert len(refused) == 3
