"""Run sheets in a real browser on a telephone: the line is cut and comes back, the page is closed, photos are
taken, somebody else was there first. Everything is sent once, and nothing is lost."""

import io
import re

import pytest
from PIL import Image
from playwright.sync_api import expect

from sites.actions.customers import make_customer, make_member
from sites.actions.records import add_record, make_site
from sites.actions.stages import give_answer
from sites.models import Answer, Person, Proof, Site, StepDone
from tests.browser.clean import violations
from tests.shares import every

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
AT = "/at/larkfield/mill/"
RUN = AT + "run/1/"
SCOPE, ROOM = RUN + "check/scope-agreed/", RUN + "check/room-seen/"
TOM, NOOR = "tom@larkfield.example", "noor@larkfield.example"


@pytest.fixture(autouse=True)
def house(transactional_db):
    staff = Person.objects.create_superuser("staff@house.example", "paper-and-pencil", name="Staff")
    customer = make_customer(by=staff, values={"name": "Larkfield Vets", "code": "larkfield"})
    for email, name, role in ((TOM, "Tom Reed", "editor"), (NOOR, "Noor Marsh", "lead")):
        person = Person.objects.create_user(email, "paper-and-pencil", name=name)
        make_member(customer=customer, person=person, role=role)
    site = make_site(by=staff, customer=customer, code="mill", name="Mill Street", purpose="trial")
    Site.objects.filter(pk=site.pk).update(time_zone="Europe/Vienna")
    add_record(
        by=staff,
        site=site,
        kind="host",
        values={"name": "mill-h1", "address": "10.44.0.11", "weight_kg": 30.0},
    )
    return site


def opened(page, url=RUN):
    """Opens a run sheet and waits until the whole stage is on the device."""
    with page.expect_response(re.compile("/whole")):
        page.goto(url)
    page.wait_for_function("document.documentElement.classList.contains('scripted')")
    page.wait_for_timeout(300)
    return page


def photo() -> bytes:
    exif = Image.Exif()
    exif.get_ifd(0x8825).update({1: "N", 2: (48.0, 12.0, 30.0)})
    out = io.BytesIO()
    Image.new("RGB", (1200, 900), "green").save(out, "JPEG", exif=exif)
    return out.getvalue()


def answer(page, word, note=""):
    if note:
        page.get_by_label("Note, what was seen").fill(note)
    page.get_by_role("group", name="Answer").get_by_role("button", name=word).click()


def sent(page):
    expect(page.locator("[data-unsent]")).to_be_hidden(timeout=15_000)


# -- without a line ------------------------------------------------------------------------------


def test_answers_wait_while_the_line_is_cut_and_are_sent_once(open_page):
    page = opened(open_page(TOM, width=360))
    page.context.set_offline(True)
    page.locator(f"a[href='{SCOPE}']").click()  # no page is fetched: the stage is on the device
    expect(page.get_by_role("heading", level=1)).to_contain_text("The scope is agreed")
    answer(page, "Proven", "Signed letter, page 2.")
    expect(page.locator("[data-pending]")).to_contain_text(
        "Not sent yet: Proven – Signed letter, page 2."
    )
    expect(page.locator("[data-unsent]")).to_contain_text(
        "One answer waits on this device. Not sent yet."
    )
    page.locator(".run-head a").click()
    page.locator(f"a[href='{ROOM}']").click()
    answer(page, "On trust")
    expect(page.locator("[data-unsent]")).to_contain_text(
        re.compile(r"No line since \d\d:\d\d\. Two answers wait")
    )
    assert Answer.objects.count() == 0
    page.context.set_offline(False)
    sent(page)
    states = dict(Answer.objects.values_list("check_key", "state"))
    assert (
        states == {"scope-agreed": "proven", "room-seen": "trust"} and Answer.objects.count() == 2
    )
    expect(page.locator("[data-pending]")).to_be_empty()
    page.goto(SCOPE)
    expect(page.locator(".answered")).to_contain_text("Signed letter, page 2.")


def test_what_was_answered_before_the_page_was_closed_is_sent_when_it_opens_again(open_page):
    page = opened(open_page(TOM, width=360), SCOPE)
    context = page.context
    context.set_offline(True)
    answer(page, "Proven", "Signed letter, page 2.")
    expect(page.locator("[data-unsent]")).to_be_visible()
    page.close()
    context.set_offline(False)
    assert Answer.objects.count() == 0
    again = opened(context.new_page(), AT + "run/2/")  # any run sheet of the house
    sent(again)
    assert [(one.state, one.proof, one.by.name) for one in Answer.objects.all()] == [
        ("proven", "Signed letter, page 2.", "Tom Reed")
    ]


def test_nobody_overtakes_themselves(open_page, house):
    """The stage was asked for before a step was begun and comes after it: what it says of the step is old."""
    step = RUN + "step/agree-scope/"
    page = opened(open_page(TOM, width=360), step)
    give_answer(
        by=Person.objects.get(email=NOOR), site=house, key="room-seen", state="proven", proof="x"
    )
    page.evaluate("""() => {
        const fetched = window.fetch;
        window.fetch = async (...asked) => {
            const answer = await fetched(...asked);
            if (!window.letGo && String(asked[0]).includes("/whole")) await new Promise((go) => { window.letGo = go; });
            return answer;
        };
        document.dispatchEvent(new Event("visibilitychange"));
    }""")
    page.wait_for_function("() => window.letGo")
    page.get_by_role("button", name="Begin", exact=True).click()
    expect(page.locator(".did")).to_contain_text("Tom Reed")
    page.evaluate("window.letGo()")
    page.wait_for_timeout(600)
    page.get_by_role("button", name="Done", exact=True).click()
    expect(page.locator(".did")).to_contain_text("done")
    assert StepDone.objects.get().state == "done"


def test_an_answer_whose_reply_is_lost_is_kept_once(open_page):
    page = opened(open_page(TOM, width=360), SCOPE)
    lost = []

    def lose(route):
        if route.request.method == "POST" and not lost:
            lost.append(route.fetch().status)  # the house has it, the device never hears
            route.abort()
        else:
            route.continue_()

    page.route("**/check/**", lose)
    answer(page, "Proven", "Signed letter, page 2.")
    expect(page.locator("[data-unsent]")).to_contain_text("No line since", timeout=15_000)
    assert lost == [200] and Answer.objects.count() == 1
    page.evaluate("window.dispatchEvent(new Event('online'))")
    sent(page)
    assert Answer.objects.count() == 1


def test_a_page_that_is_not_the_houses_is_no_answer(open_page):
    """Some networks put their own page, with a friendly 200, before everything."""
    page = opened(open_page(TOM, width=360), SCOPE)
    page.route(
        "**/check/**",
        lambda route: route.fulfill(status=200, content_type="text/html", body="<h1>Hello</h1>"),
    )
    answer(page, "Proven", "Signed letter, page 2.")
    expect(page.locator("[data-unsent]")).to_contain_text("No line since")
    page.unroute_all()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    sent(page)
    assert Answer.objects.count() == 1


def test_two_answers_to_one_check_go_in_their_order(open_page):
    """The second was given knowing the first: it is no clash with it."""
    page = opened(open_page(TOM, width=360), SCOPE)
    page.context.set_offline(True)
    answer(page, "On trust")
    answer(page, "Proven", "Now I have read it.")
    expect(page.locator(".pending")).to_have_count(2)
    page.context.set_offline(False)
    sent(page)
    assert [one.state for one in Answer.objects.order_by("pk")] == ["trust", "proven"]


@pytest.mark.parametrize(
    ("choice", "states"),
    [("Keep theirs", ["failed"]), ("Mine is newer: send it", ["failed", "proven"])],
)
def test_somebody_elses_newer_answer_is_shown_beside_ones_own(open_page, house, choice, states):
    page = opened(open_page(TOM, width=360), SCOPE)
    page.context.set_offline(True)
    answer(page, "Proven", "Signed letter, page 2.")
    expect(page.locator("[data-unsent]")).to_be_visible()
    noor = Person.objects.get(email=NOOR)
    give_answer(
        by=noor, site=house, key="scope-agreed", state="failed", proof="The letter was taken back."
    )
    page.context.set_offline(False)
    clash = page.locator(".run-clash")
    expect(clash).to_contain_text("The letter was taken back.", timeout=15_000)
    expect(clash).to_contain_text("Signed letter, page 2.")
    expect(page.locator("[data-unsent]")).to_contain_text("1 must be looked at")
    assert Answer.objects.count() == 1
    clash.get_by_text(choice).click()
    sent(page)
    expect(clash).to_have_count(0)
    assert [one.state for one in Answer.objects.order_by("pk")] == states


def test_signed_out_meanwhile_loses_nothing(open_page):
    page = opened(open_page(TOM, width=360), SCOPE)
    page.context.clear_cookies(name="sessionid")
    answer(page, "Proven", "Signed letter, page 2.")
    expect(page.locator("[data-unsent]")).to_contain_text("You are signed out")
    page.locator("[data-unsent] a").click()
    page.get_by_label("Email").fill(TOM)
    page.get_by_label("Password").fill("paper-and-pencil")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(re.compile("scope-agreed"))
    sent(page)
    page.wait_for_timeout(500)
    assert Answer.objects.get().proof == "Signed letter, page 2."


def test_somebody_else_at_the_same_device_sends_only_their_own(open_page):
    page = opened(open_page(TOM, width=360), SCOPE)
    page.context.set_offline(True)
    answer(page, "Proven", "Signed letter, page 2.")
    expect(page.locator("[data-unsent]")).to_be_visible()
    page.route(
        "**/check/**",
        lambda route: route.abort() if route.request.method == "POST" else route.continue_(),
    )
    page.context.set_offline(False)
    page.context.clear_cookies()
    page.goto("/")
    page.get_by_label("Email").fill(NOOR)
    page.get_by_label("Password").fill("paper-and-pencil")
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("heading", name="Sites", exact=True).wait_for()
    page.unroute_all()
    opened(page, SCOPE)
    expect(page.locator("[data-unsent]")).to_contain_text(
        "Answers of somebody else wait on this device"
    )
    page.wait_for_timeout(500)
    assert not Answer.objects.exists()


def test_what_is_being_typed_stays_while_the_page_renews_itself(open_page, house):
    page = opened(open_page(TOM, width=360), SCOPE)
    page.get_by_label("Note, what was seen").fill("Signed letter, pa")
    give_answer(by=Person.objects.get(email=NOOR), site=house, key="room-seen", state="trust")
    with page.expect_response(re.compile("/whole")):
        page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    expect(page.locator(f"a[href='{ROOM}']")).to_contain_text("on trust", timeout=10_000)
    expect(page.get_by_label("Note, what was seen")).to_have_value("Signed letter, pa")


# -- photos, steps, the value to copy ------------------------------------------------------------


def test_a_photo_waits_with_its_answer(open_page):
    page = opened(open_page(TOM, width=360), ROOM)
    page.context.set_offline(True)
    answer(page, "Proven", "I was there.")
    expect(page.locator(".error")).to_contain_text(
        "Add a photo"
    )  # said at once, not when the line is back
    taken = {"name": "door.jpg", "mimeType": "image/jpeg", "buffer": photo()}
    page.locator("input[name=photos]").set_input_files(taken)
    expect(page.locator("[data-chosen]")).to_contain_text("door.jpg")
    answer(page, "Proven", "I was there.")
    expect(page.locator("[data-pending]")).to_contain_text("1 photo")
    page.context.set_offline(False)
    sent(page)
    proof = Proof.objects.get()
    assert (proof.kind, proof.width, proof.height, proof.answer.proof) == (
        "photo",
        1200,
        900,
        "I was there.",
    )
    expect(page.locator(".proofs img")).to_be_visible()
    assert (
        page.locator(".proofs img").evaluate(
            "image => image.decode().then(() => image.naturalWidth)"
        )
        == 320
    )


def test_a_step_is_begun_and_done(open_page):
    page = opened(open_page(TOM, width=360), AT + "run/1/")
    page.locator(".run-lines a:has(.box-ready)").first.click()
    page.get_by_role("button", name="Begin").click()
    expect(page.locator(".did")).to_contain_text("Tom Reed, since")
    expect(page.locator("[data-since]")).to_have_text("0 min")
    page.get_by_role("button", name="Done", exact=True).click()
    expect(page.locator(".did")).to_contain_text("done")
    assert StepDone.objects.get().state == "done"


def test_a_value_outside_its_range_is_said_at_once(open_page):
    page = opened(open_page(TOM, width=360), AT + "run/2/check/clocks-agree/")
    page.context.set_offline(True)
    page.get_by_label("The value read, in s").fill("301")
    answer(page, "Proven")
    expect(page.locator(".error")).to_contain_text(
        "301 is not 0 to 5 s: that is failed, not proven."
    )
    answer(page, "Failed")
    expect(page.locator("[data-pending]")).to_contain_text("Not sent yet: Failed – 301")


def test_the_value_is_copied_over_plain_http(open_page, live_server):
    """A page from a plain address on the local network has neither clipboard nor random keys from the browser."""
    page = open_page(width=360)
    elsewhere = live_server.url.replace("localhost", "testserver")
    page.goto(elsewhere)
    page.get_by_label("Email").fill(TOM)
    page.get_by_label("Password").fill("paper-and-pencil")
    page.get_by_role("button", name="Sign in").click()
    opened(page, elsewhere + AT + "run/3/")
    missing = page.evaluate("[isSecureContext, 'clipboard' in navigator, 'randomUUID' in crypto]")
    assert missing == [False, False, False]
    page.locator("a[href*='check/host-reachable']").click()
    page.get_by_role("button", name="Copy").click()
    expect(page.locator("[data-copy-button]")).to_contain_text(re.compile("Copied|Chosen"))
    assert page.evaluate("getSelection().toString().trim()") == "10.44.0.11"
    answer(page, "On trust")
    sent(page)
    page.wait_for_timeout(300)
    assert Answer.objects.get().state == "trust"


# -- everybody -----------------------------------------------------------------------------------


def test_the_run_sheet_works_without_script(open_page):
    page = open_page(TOM, width=360, script=False)
    page.goto(RUN)
    page.locator(f"a[href='{SCOPE}']").click()
    answer(page, "Proven")
    expect(page.locator(".problems")).to_contain_text("Say what you looked at")
    answer(page, "Proven", "Signed letter, page 2.")
    expect(page.locator("#said")).to_contain_text("is answered: proven")
    expect(page.locator(".answered")).to_contain_text("Signed letter, page 2.")
    page.goto(ROOM)
    page.locator("input[name=files]").set_input_files(
        {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": photo()}
    )
    answer(page, "Proven")
    expect(page.locator(".proofs img")).to_be_visible()
    assert Answer.objects.count() == 2


PAGES = [
    RUN,
    SCOPE,
    ROOM,
    AT + "run/2/check/clocks-agree/",
    AT + "run/3/",
    AT + "ready",
    AT + "owners",
    AT + "stages/1/",
    AT + "stages/3/",
    AT + "stages/1/excuse",
    AT + "answer/scope-agreed",
]


@pytest.mark.parametrize(
    ("width", "scheme"), [(360, "light"), (360, "dark"), (1440, "light"), (1440, "dark")]
)
def test_pages_are_clean(open_page, house, width, scheme):
    noor = Person.objects.get(email=NOOR)
    give_answer(
        by=noor,
        site=house,
        key="scope-agreed",
        state="failed",
        proof="Nothing in writing.",
        value="x",
    )
    page = open_page(NOOR, width=width, scheme=scheme)
    step = opened(page, AT + "run/3/").locator("a:has(.box-blocked)").first.get_attribute("href")
    trouble = []
    pages = [*PAGES, step]
    for url in every(2, pages) if scheme == "dark" else pages:
        page.goto(url)
        page.wait_for_timeout(200)
        found = violations(page, scheme)
        trouble += [(url, v["id"], v["nodes"][0]["html"][:150]) for v in found]
        if page.evaluate("document.documentElement.scrollWidth") > width:
            trouble.append((url, "wider than the window", ""))
    assert trouble == []
    assert open_page.errors == []


def test_every_target_is_large_enough_for_a_thumb(open_page):
    """44 px. Source: WCAG 2.2, success criterion 2.5.5 (target size, enhanced), as the design asks."""
    page = opened(open_page(TOM, width=360), SCOPE)
    small = """nodes => nodes.map(node => [node.textContent.trim().slice(0, 30), node.getBoundingClientRect()])
        .filter(([, box]) => box.height && box.height < 44).map(([text, box]) => `${text}: ${box.height}`)"""
    for url in (SCOPE, ROOM, RUN):
        opened(page, url)
        assert (
            page.locator(".run button:visible, .run .button:visible, .run-lines a").evaluate_all(
                small
            )
            == []
        )


def test_the_keyboard_alone_answers_and_goes_on(open_page):
    page = opened(open_page(TOM, width=1440), SCOPE)
    page.get_by_label("Note, what was seen").focus()
    page.keyboard.type("Signed letter, page 2.")
    for _ in range(4):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.value") == "proven":
            break
    page.keyboard.press("Enter")
    expect(page.locator(".answered")).to_contain_text("Signed letter, page 2.")
    assert page.evaluate("document.activeElement !== document.body")
    page.locator(".run-next .primary").focus()
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.tagName") == "H1"
    assert open_page.errors == []
