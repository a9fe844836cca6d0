"""A form pressed twice in a real browser: its buttons rest while it is under way, and wake when it is not."""

import time

import pytest

from sites.models import Host, Site
from tests import demo_house

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
BENCH = "/at/larkfield/bench/"


@pytest.fixture(autouse=True)
def demo(transactional_db):
    demo_house.put_in_place()


def slow(page, asked: list) -> None:
    """Every form that is sent takes a second longer; it is noted."""

    def hold(route):
        if route.request.method == "POST":
            asked.append(route.request.url)
            time.sleep(1)
        route.continue_()

    page.route("**/*", hold)


@pytest.mark.parametrize("script", [True, False])
def test_a_row_pressed_twice_is_one(open_page, script):
    page, asked = open_page("noor@larkfield.example", script=script), []
    page.goto(BENCH + "hosts/?add=hosts")
    before = Host.objects.count()
    page.get_by_label("Name", exact=True).fill("pressed-twice")
    slow(page, asked)
    page.get_by_role("button", name="Save").dblclick(no_wait_after=True)
    page.get_by_text("Added: pressed-twice.").first.wait_for()
    page.get_by_role("rowheader", name="pressed-twice").wait_for()
    assert Host.objects.count() == before + 1
    assert not script or len(asked) == 1


def test_a_whole_page_pressed_twice_is_one(open_page):
    page, asked = open_page("noor@larkfield.example"), []
    page.goto("/at/larkfield/")
    page.get_by_text("Add a site", exact=True).click()
    page.get_by_label("Site name").fill("Orchard Row")
    page.get_by_label("Code").first.fill("orchard")
    slow(page, asked)
    button = page.get_by_role("button", name="Add the site")
    button.dblclick(no_wait_after=True)
    page.get_by_role("heading", name="1 Brief").wait_for()
    assert Site.objects.filter(code="orchard").count() == 1 and len(asked) == 1


def test_after_a_refusal_it_can_be_pressed_again(open_page):
    page = open_page("noor@larkfield.example")
    page.goto(BENCH + "hosts/?add=hosts")
    page.get_by_label("Name", exact=True).fill("h9")
    page.get_by_label("Memory", exact=False).first.fill("lots")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("There is a problem").wait_for()
    assert page.get_by_role("button", name="Save").is_enabled()


def test_a_line_that_fails_leaves_the_button_awake(open_page):
    page = open_page("noor@larkfield.example")
    page.goto(BENCH + "hosts/?add=hosts")
    page.get_by_label("Name", exact=True).fill("h9")
    page.route("**/add/hosts", lambda route: route.abort())
    page.get_by_role("button", name="Save").click()
    page.wait_for_function("!document.querySelector('button:disabled')")
    assert page.get_by_label("Name", exact=True).input_value() == "h9"
    open_page.errors.clear()  # the browser itself notes the lost line
