"""What a browser still holds of the house after signing out: on its disk, and of answers that were not sent yet."""

import io
import random
import re

import pytest
from PIL import Image
from playwright.sync_api import expect

from sites.actions.proofs import folder
from sites.models import Answer, Proof, Site
from tests.browser.conftest import CHROMIUM
from tests.browser.test_kept import kept, line, sign_in, until, until_kept  # noqa: F401
from tests.browser.test_run import AT, ROOM, RUN, SCOPE, TOM, answer, house, sent  # noqa: F401

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
NAME = "Quiverbracken"  # of the site: it stands on every page of it, and nowhere else
HELD = (
    "Cache",
    "Code Cache",
    "Service Worker",
    "IndexedDB",
    "Local Storage",
    "Session Storage",
    "Storage",
    "File System",
    "blob_storage",
)
WAITING = """() => new Promise((resolve) => {
    const asked = indexedDB.open("deskwright-unsent", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("unsent", { keyPath: "token" });
    asked.onsuccess = () => {
        const counted = asked.result.transaction("unsent").objectStore("unsent").count();
        counted.onsuccess = () => { asked.result.close(); resolve(counted.result); };
    };
})"""


class OwnBrowser:
    """A browser with a disk of its own, as people have; closing it writes everything down."""

    def __init__(self, browser, place, base):
        self.place, self.open = (
            place,
            lambda: browser.browser_type.launch_persistent_context(
                str(place), executable_path=CHROMIUM, args=["--no-sandbox"], base_url=base
            ),
        )

    def holds(self, words: bytes) -> list[str]:
        """Where in what it keeps of pages these words stand."""
        found = []
        for name in HELD:
            for path in (self.place / "Default" / name).rglob("*"):
                if path.is_file() and words in path.read_bytes():
                    found.append(str(path.relative_to(self.place)))
        return found


@pytest.fixture
def own(browser, tmp_path, live_server):
    return OwnBrowser(browser, tmp_path / "browser", live_server.url)


def grainy() -> bytes:
    """A photo that does not become small."""
    out, grain = io.BytesIO(), random.Random(4)
    Image.frombytes("RGB", (400, 300), grain.randbytes(360_000)).save(out, "JPEG", quality=90)
    return out.getvalue()


def piece_of_the_photo() -> bytes:
    return (folder() / Proof.objects.get().place).read_bytes()[2000:2064]


def until_there(page):
    """Until the answer with its photo has arrived: while the photo is made small, nothing waits yet to be sent."""
    for _ in range(300):
        if Proof.objects.exists():
            break
        page.wait_for_timeout(50)
    sent(page)


def visit(page):
    """Pages, a photo, and a run sheet that is kept."""
    page.goto("/")
    sign_in(page, TOM)
    page.get_by_role("heading", name="Sites", exact=True).wait_for()
    page.goto(ROOM)
    page.locator("html.scripted").wait_for()
    page.wait_for_load_state(
        "networkidle"
    )  # the worker has come, and what the page fetches by itself
    page.locator("input[name=photos]").set_input_files(
        {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": grainy()}
    )
    expect(page.locator("[data-chosen] li")).to_have_count(1)
    answer(page, "Proven", "I was there.")
    until_there(page)
    for url in (AT + "hosts/", AT + "brief/", AT + "stages/1/", RUN):
        page.goto(url)
    until_kept(page)
    proof = Proof.objects.get()
    for size in ("", "/small"):
        page.goto(f"{AT}proof/{proof.pk}{size}")


def test_after_signing_out_nothing_of_the_house_lies_in_the_browser(own, house):  # noqa: F811
    Site.objects.update(name=NAME)
    context = own.open()
    page = context.new_page()
    visit(page)
    picture = piece_of_the_photo()
    context.close()
    assert any(
        "/Service Worker/" in name for name in own.holds(NAME.encode())
    )  # the kept run sheet
    context = own.open()
    page = context.new_page()
    page.goto("/you")
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    until(page, "async () => !(await caches.keys()).length")
    page.go_back()
    expect(page.locator("body")).not_to_contain_text("Tom Reed")
    context.close()
    assert own.holds(NAME.encode()) == [] and own.holds(picture) == []


def test_while_signed_in_no_page_and_no_photo_lies_in_the_browsers_cache(own, house):  # noqa: F811
    """Only the run sheet does, in its own place: also when somebody just closes the window."""
    Site.objects.update(name=NAME)
    context = own.open()
    visit(context.new_page())
    picture = piece_of_the_photo()
    context.close()
    places = {place.split("/")[1] for place in own.holds(NAME.encode())}
    assert places == {"Service Worker"} and own.holds(picture) == []


# -- what waits unsent ---------------------------------------------------------------------------


def test_answers_that_wait_are_told_and_stay(kept, line):  # noqa: F811
    line.cut()
    kept.goto(line.url + SCOPE)
    answer(kept, "Proven", "Signed letter, page 2.")
    expect(kept.locator("[data-unsent]")).to_contain_text("One answer waits on this device.")
    line.mend()
    posts = "**/run/1/check/**"
    kept.route(
        posts, lambda asked: asked.abort() if asked.request.method == "POST" else asked.continue_()
    )
    kept.goto(line.url + "/you")
    kept.get_by_role("button", name="Sign out").click()
    expect(kept.get_by_role("alert")).to_contain_text(
        "One answer waits on this device, not sent yet."
    )
    assert "page 2" not in kept.get_by_role("alert").text_content()
    assert kept.evaluate("document.activeElement.getAttribute('role')") == "alert"
    kept.get_by_role("button", name="Sign out and leave it here").click()
    expect(kept.get_by_role("heading", name="Sign in")).to_be_visible()
    until(kept, "async () => !(await caches.keys()).length")  # the copies go all the same
    assert kept.evaluate(WAITING) == 1 and not Answer.objects.exists()
    kept.unroute(posts)
    sign_in(kept, TOM)
    kept.get_by_role("heading", name="Sites", exact=True).wait_for()
    kept.goto(line.url + RUN)
    sent(kept)
    assert Answer.objects.get().check_key == "scope-agreed"


def test_with_nothing_waiting_one_press_signs_out(open_page):
    page = open_page(TOM, width=360)
    page.goto("/sign-in/logout/")
    with page.expect_request(lambda one: one.method == "POST") as asked:
        page.get_by_role("button", name="Sign out").click()
    assert "waits=nothing" in asked.value.post_data
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    assert open_page.errors == []


def test_without_script_one_press_signs_out(open_page):
    page = open_page(TOM, script=False)
    page.goto("/you")
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()


# -- back and forward ----------------------------------------------------------------------------


def test_what_was_typed_is_asked_about_before_it_is_left(open_page):
    """No page is kept any more, so none brings back what was typed: the browser asks first."""
    page = open_page(TOM)
    page.goto(AT + "brief/")
    page.goto(AT + "hosts/?add=hosts")
    field = page.get_by_label("Name", exact=True)
    field.press_sequentially("mill-h2")
    asked = []

    def stay(dialog):
        asked.append(dialog.type)
        dialog.dismiss()

    page.once("dialog", stay)
    page.evaluate("history.back()")
    page.wait_for_timeout(500)
    assert asked == ["beforeunload"] and field.input_value() == "mill-h2"
    page.on("dialog", lambda dialog: dialog.accept())
    page.evaluate("history.back()")
    expect(page).to_have_url(re.compile("/brief/$"))
    page.go_forward()
    expect(page).to_have_url(re.compile(r"/hosts/\?add=hosts$"))
    expect(page.get_by_label("Name", exact=True)).to_be_visible()
