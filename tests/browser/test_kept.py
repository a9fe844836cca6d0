"""Run sheets that open without a line, in a real browser on a telephone. The line is cut where it hurts: the
house's port is closed and every connection broken, so that nothing answers any more."""

import contextlib
import re
import socket
import threading
import time
import urllib.parse

import pytest
from django.test import Client
from playwright.sync_api import expect

from sites.models import Answer, Customer, Person, Proof
from sites.web import offline as release
from tests.browser.clean import violations
from tests.browser.test_run import AT, NOOR, ROOM, RUN, SCOPE, TOM, answer, house, photo, sent  # noqa: F401

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
OTHER = AT + "run/2/"
LISTED = """async () => {
    const found = {};
    for (const name of (await caches.keys()).sort()) {
        const keys = await (await caches.open(name)).keys();
        found[name] = keys.map(one => new URL(one.url).pathname + new URL(one.url).search);
    }
    return found;
}"""


GONE = "async name => !await caches.has(name) || !(await (await caches.open(name)).keys()).length"


class Line:
    """A port that passes everything on to the house, until it is cut."""

    def __init__(self, house_url: str):
        at = urllib.parse.urlsplit(house_url)
        self.house, self.port, self.open = (at.hostname, at.port), 0, set()
        self.mend()

    @property
    def url(self) -> str:
        return f"http://localhost:{self.port}"

    def mend(self) -> None:
        self.ear = socket.create_server(("127.0.0.1", self.port))
        self.port = self.ear.getsockname()[1]
        threading.Thread(target=self._listen, args=(self.ear,), daemon=True).start()

    def hang(self) -> None:
        """From now on everything is accepted and nothing answered."""
        self.cut()
        self.ear = socket.create_server(("127.0.0.1", self.port))

    def cut(self) -> None:
        for one in (self.ear, *self.open):
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
            one.close()
        self.open.clear()

    def _listen(self, ear: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while True:
                caller = ear.accept()[0]
                beyond = socket.create_connection(self.house)
                self.open |= {caller, beyond}
                for here, there in ((caller, beyond), (beyond, caller)):
                    threading.Thread(target=self._pass_on, args=(here, there), daemon=True).start()

    @staticmethod
    def _pass_on(here: socket.socket, there: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while piece := here.recv(65536):
                there.sendall(piece)
        with contextlib.suppress(OSError):
            there.shutdown(socket.SHUT_WR)


@pytest.fixture
def line(live_server):
    found = Line(live_server.url)
    yield found
    found.cut()


def sign_in(page, email):
    page.get_by_label("Email").fill(email)
    page.get_by_label("Password").fill("paper-and-pencil")
    page.get_by_role("button", name="Sign in").click()


@pytest.fixture
def kept(open_page, line):
    """A telephone with Tom's run sheet open, and kept."""
    page, client = open_page(width=360), Client()
    client.force_login(Person.objects.get(email=TOM), "sites.web.accounts.HouseBackend")
    session = client.cookies["sessionid"].value
    page.context.add_cookies(
        [{"name": "sessionid", "value": session, "url": line.url, "httpOnly": True}]
    )
    page.goto(line.url + RUN)
    until_kept(page)
    return page


def until_kept(page):
    expect(page.locator("[data-keeps]")).to_contain_text(
        re.compile(
            r"^Kept on this device: this run sheet opens without a line until \w{3} \d{1,2} \w{3,4}\. Forget it"
        ),
        timeout=10_000,
    )


def until(page, script, arg=None):
    for _ in range(200):
        if page.evaluate(script, arg):
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"never came true: {script}")


def is_clean(page):
    found = violations(page)
    assert [one["id"] for one in found] == [] and page.evaluate(
        "document.documentElement.scrollWidth"
    ) == 360


def copies(page) -> dict:
    """What the browser holds of run sheets, but their static files."""
    return {name: keys for name, keys in page.evaluate(LISTED).items() if "files" not in name}


def tom() -> str:
    return f"deskwright-run-for-{Person.objects.get(email=TOM).pk}"


# -- without a line ------------------------------------------------------------------------------


def test_closed_and_opened_again_without_a_line_it_goes_on_and_is_sent_once(kept, line):
    context = kept.context
    line.cut()
    kept.reload()
    expect(kept.get_by_role("heading", level=1)).to_contain_text("1 ")
    expect(kept.locator("[data-unsent]")).to_have_text(
        re.compile(r"^No line\. This is the copy of \d\d:\d\d\.$")
    )
    kept.close()
    page = context.new_page()
    page.goto(line.url + SCOPE)  # a step by its own address, never opened before
    expect(page.get_by_role("heading", level=1)).to_contain_text("The scope is agreed")
    assert (
        page.evaluate("getComputedStyle(document.querySelector('.run-answers')).display") == "grid"
    )
    assert page.evaluate(
        "document.fonts.ready.then(() => document.fonts.check('16px \"Source Sans\"'))"
    )
    assert page.evaluate(
        "navigator.serviceWorker.controller !== null && document.querySelector('h1').checkVisibility()"
    )
    answer(page, "Proven", "Signed letter, page 2.")
    expect(page.locator("[data-unsent]")).to_contain_text("One answer waits on this device.")
    is_clean(page)
    page.close()
    page = context.new_page()
    page.goto(line.url + ROOM)
    page.locator("input[name=photos]").set_input_files(
        {"name": "door.jpg", "mimeType": "image/jpeg", "buffer": photo()}
    )
    expect(page.locator("[data-chosen]")).to_contain_text("door.jpg")
    answer(page, "Proven", "I was there.")
    expect(page.locator("[data-pending]")).to_contain_text("1 photo")
    page.goto(line.url + SCOPE)
    expect(page.locator("[data-pending]")).to_contain_text(
        "Not sent yet: Proven – Signed letter, page 2."
    )
    expect(page.locator("[data-unsent]")).to_contain_text("Two answers wait on this device.")
    assert not Answer.objects.exists()
    line.mend()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    sent(page)
    expect(page.locator(".answered")).to_contain_text(
        "Signed letter, page 2."
    )  # the page has renewed itself
    assert sorted(Answer.objects.values_list("check_key", "state")) == [
        ("room-seen", "proven"),
        ("scope-agreed", "proven"),
    ]
    assert Proof.objects.get().answer.check_key == "room-seen"
    line.cut()
    page.reload()
    expect(page.locator(".answered")).to_contain_text(
        "Signed letter, page 2."
    )  # and the copy with it


def hangs(kept, line):
    """A line that takes everything and answers nothing is given up soon."""
    line.hang()
    begun = time.monotonic()
    kept.goto(line.url + SCOPE)
    expect(kept.locator("[data-unsent]")).to_contain_text("This is the copy of")
    assert 3 <= time.monotonic() - begun < 8
    assert (
        kept.evaluate("getComputedStyle(document.querySelector('.run-answers')).display") == "grid"
    )


def test_what_the_copy_does_not_hold_is_said_and_a_line_that_hangs_is_given_up(kept, line):
    kept.goto(line.url + RUN + "check/came-later/")
    expect(kept.get_by_role("heading", level=1)).to_have_text("There is nothing here")
    kept.wait_for_timeout(300)
    assert copies(kept) == {tom(): [RUN]}  # the rest of the sheet is still there for him
    hangs(kept, line)
    line.cut()
    kept.goto(line.url + RUN + "check/came-later/")
    expect(kept.locator("[data-unsent]")).to_contain_text("What you opened is not in it")
    expect(kept.get_by_role("heading", level=1)).to_be_visible()
    kept.goto(line.url + OTHER)
    expect(kept.get_by_role("heading", level=1)).to_have_text("No line")
    expect(kept.locator("main")).to_contain_text("is not kept on this device")
    is_clean(kept)
    with pytest.raises(Exception, match="ERR_CONNECTION_REFUSED"):
        kept.goto(line.url + AT + "hosts/")  # any other page is the browser's own affair


# -- what is kept, and for how long --------------------------------------------------------------


def test_nothing_else_is_kept_and_the_page_is_clean(kept, line, open_page):
    """Other pages, other stages' sheets that nobody opened, photos and what is sent are in no cache."""
    kept.goto(line.url + ROOM)
    kept.locator("input[name=photos]").set_input_files(
        {"name": "door.jpg", "mimeType": "image/jpeg", "buffer": photo()}
    )
    answer(kept, "Proven", "I was there.")
    expect(kept.locator(".proofs img")).to_be_visible()
    for url in ("/", AT + "hosts/", AT + "stages/1/", "/you", RUN):
        kept.goto(line.url + url)
    until_kept(kept)
    names = kept.evaluate(LISTED)
    assert copies(kept) == {tom(): [RUN]} and len(names) == 2
    [files] = [keys for name, keys in names.items() if "files" in name]
    assert all(
        re.fullmatch(r"/static/(css|js|fonts|img|django_htmx)/[\w.-]+", one) for one in files
    )
    scopes = kept.evaluate(
        "navigator.serviceWorker.getRegistrations().then(all => all.map(one => one.scope))"
    )
    assert scopes == [line.url + AT + "run/"]
    is_clean(kept)
    assert kept.get_by_role("button", name="Forget it here").bounding_box()["height"] >= 44
    assert open_page.errors == []
    kept.context.set_offline(True)  # as the browser's own switch does it
    kept.goto(line.url + SCOPE)
    expect(kept.locator("[data-unsent]")).to_contain_text("This is the copy of")
    kept.context.set_offline(False)  # the browser notices by itself
    sent(kept)


def grows_old(kept, line):
    """Shown for seven days, then not, and deleted at the next page of the house."""
    age = """async ([name, sheet, days]) => {
        const shelf = await caches.open(name), copy = await shelf.match(sheet), headers = new Headers(copy.headers);
        headers.set("Kept-At", String(Number(headers.get("Kept-At")) - days * 86400000));
        await shelf.put(sheet, new Response(await copy.blob(), { headers }));
    }"""
    line.cut()
    kept.evaluate(age, [tom(), RUN, 6.9])
    kept.goto(line.url + SCOPE)
    expect(kept.locator("[data-unsent]")).to_contain_text(re.compile(r"This is the copy of"))
    kept.evaluate(age, [tom(), RUN, 0.2])
    kept.goto(line.url + SCOPE)
    expect(kept.get_by_role("heading", level=1)).to_have_text("No line")
    line.mend()
    kept.goto(line.url + "/")
    until(kept, GONE, tom())


def test_forgotten_here_it_stays_away_until_it_is_wanted_again_and_grows_old(kept, line):
    kept.get_by_role("button", name="Forget it here").click()
    expect(kept.locator("[data-keeps]")).to_contain_text(
        "Not kept on this device. Opening this page again needs the line"
    )
    assert kept.evaluate("document.activeElement.textContent") == "Keep it here"
    with kept.expect_response(re.compile("/whole")):
        kept.reload()
    expect(kept.locator("[data-keeps]")).to_contain_text("Not kept on this device.")
    line.cut()
    kept.goto(line.url + SCOPE)
    expect(kept.get_by_role("heading", level=1)).to_have_text("No line")
    line.mend()
    kept.goto(line.url + RUN)
    kept.get_by_role("button", name="Keep it here").click()
    until_kept(kept)
    grows_old(kept, line)


def test_a_new_release_takes_the_place_of_the_old(kept, line, monkeypatch):
    """Files go when no copy needs them any more; a copy and its files are of one release."""
    kept.goto(line.url + OTHER)
    until_kept(kept)
    name, program = release.made()
    [old] = [one for one in kept.evaluate(LISTED) if "files" in one]
    assert old == f"deskwright-run-files-{name}"
    monkeypatch.setattr(
        release, "_made_once", lambda: ("new", program.replace(name.encode(), b"new"))
    )
    kept.goto(line.url + RUN)
    new = "deskwright-run-files-new"
    of = """async ([shelf, sheet]) => {
        const copy = await (await caches.open(shelf)).match(sheet);
        return copy && copy.headers.get("Kept-Release") === "new";
    }"""
    until(kept, of, [tom(), RUN])
    assert {one for one in kept.evaluate(LISTED) if "files" in one} == {
        old,
        new,
    }  # stage 2 is still of the old one
    kept.goto(line.url + OTHER)
    until(kept, of, [tom(), OTHER])
    until(kept, "async old => !await caches.has(old)", old)
    assert copies(kept) == {tom(): [RUN, OTHER]}


# -- whose it is ---------------------------------------------------------------------------------


def test_signing_out_deletes_the_copy_and_the_worker(kept, line):
    kept.goto(line.url + "/you")
    assert copies(kept) == {tom(): [RUN]}
    kept.get_by_role("button", name="Sign out").click()
    expect(kept.get_by_role("heading", name="Sign in")).to_be_visible()
    until(kept, "async () => !(await caches.keys()).length")
    until(kept, "async () => !(await navigator.serviceWorker.getRegistrations()).length")
    line.cut()
    with pytest.raises(Exception, match="ERR_CONNECTION_REFUSED"):
        kept.goto(line.url + RUN)


def test_who_may_no_longer_look_loses_the_copy_at_the_next_visit(kept, line):
    kept.goto(line.url + OTHER)
    until_kept(kept)
    assert copies(kept) == {tom(): [RUN, OTHER]}
    kept.context.clear_cookies(name="sessionid")
    kept.goto(line.url + SCOPE)
    expect(kept.get_by_role("heading", level=1)).to_have_text("Sign in")
    until(kept, "async () => !(await caches.keys()).length")
    sign_in(kept, TOM)  # back to the step; its sheet is kept again
    until(
        kept,
        "async ([name, sheet]) => Boolean(await (await caches.open(name)).match(sheet))",
        [tom(), RUN],
    )
    Customer.objects.get().memberships.get(person__email=TOM).delete()
    kept.goto(line.url + SCOPE)  # of a step one is told the same as of its sheet
    expect(kept.get_by_role("heading", level=1)).to_have_text("There is nothing here")
    until(kept, GONE, tom())
    line.cut()
    kept.goto(line.url + RUN)
    expect(kept.get_by_role("heading", level=1)).to_have_text("No line")


def test_another_person_finds_nothing_of_the_first(kept, line):
    kept.context.clear_cookies(name="sessionid")
    other = kept.context.new_page()
    other.route(
        "**/*.js", lambda route: route.abort()
    )  # even where no page in between could clear the shelf
    other.goto(line.url + "/")
    sign_in(other, NOOR)
    other.get_by_role("heading", name="Sites", exact=True).wait_for()
    other.close()
    assert copies(kept) == {tom(): [RUN]}
    kept.goto(line.url + OTHER)
    until_kept(kept)
    assert copies(kept) == {f"deskwright-run-for-{Person.objects.get(email=NOOR).pk}": [OTHER]}


# -- over plain HTTP -----------------------------------------------------------------------------


def test_over_plain_http_the_page_says_that_it_needs_the_line(open_page, live_server):
    page = open_page(width=360)
    elsewhere = live_server.url.replace("localhost", "testserver")
    page.goto(elsewhere + RUN)
    sign_in(page, TOM)
    expect(page.locator("[data-keeps]")).to_have_text(
        "Opening this page again needs the line; what you answer is kept."
    )
    assert page.evaluate("[isSecureContext, 'caches' in window]") == [False, False]
    assert [said for said in open_page.errors if "Cross-Origin-Opener-Policy" not in said] == []
