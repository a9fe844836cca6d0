"""The front door in a real browser, with and without script: a factor is set up, used, and everybody else is out."""

import os
import pathlib
import re

import pytest

from sites.models import Customer
from tests import demo_house
from tests.browser.clean import violations
from tests.door import code_of

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
NOOR, WORD = "noor@larkfield.example", "paper-and-pencil"


@pytest.fixture(autouse=True)
def demo(transactional_db):
    demo_house.put_in_place()


def type_in(page, email=NOOR, password=WORD):
    page.goto("/sign-in/login/")
    page.get_by_label("Email").fill(email)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in").click()


def keep_picture(page, width):
    """Where ``PICTURES`` says so."""
    folder = os.environ.get("PICTURES")
    if folder:
        scheme = page.evaluate(
            "matchMedia('(prefers-color-scheme: dark)').matches ? 'dark' : 'light'"
        )
        name = f"{page.url.split('/', 3)[3].strip('/').replace('/', '-').split('?')[0] or 'home'}-{width}-{scheme}"
        page.screenshot(path=pathlib.Path(folder) / f"{name}.png", full_page=True)


def clean(page, width):
    keep_picture(page, width)
    found = violations(page)
    assert [(one["id"], one["nodes"][0]["html"][:150]) for one in found] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize(("width", "scheme"), [(1440, "light"), (360, "dark")])
def test_a_factor_is_set_up_and_used(open_page, width, scheme):
    Customer.objects.filter(code="larkfield").update(factor_required=True)
    page = open_page(width=width, scheme=scheme)
    for place in ("/sign-in/login/", "/sign-in/password/reset/", "/sign-in/password/reset/done/"):
        page.goto(place)
        clean(page, width)
    type_in(page)
    page.get_by_role("heading", name="Set up your second factor").wait_for()
    clean(page, width)
    seed = page.locator("code").inner_text()
    page.get_by_label("Authenticator code").fill(code_of(seed=seed))
    page.get_by_role("button", name="Set it up").click()
    page.get_by_role("heading", name="Recovery codes").wait_for()
    clean(page, width)
    codes = re.findall(r"\b\d{8}\b", page.locator("main").inner_text())
    assert len(codes) == 10
    page.get_by_role("link", name="I have them").click()
    page.get_by_role("heading", name="Sites", exact=True).wait_for()
    for place in (
        "/you",
        "/sign-in/2fa/",
        "/sign-in/2fa/totp/deactivate/",
        "/sign-in/2fa/recovery-codes/generate/",
    ):
        page.goto(place)
        clean(page, width)
    page.goto("/you")
    page.get_by_role("button", name="Sign out").click()
    page.get_by_role("heading", name="Sign in").wait_for()
    type_in(page)
    page.get_by_role("heading", name="Your code").wait_for()
    clean(page, width)
    page.get_by_label("Code").fill(codes[0])
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.get_by_role("heading", name="Sites", exact=True).wait_for()
    assert open_page.errors == []


@pytest.mark.parametrize("script", [True, False])
def test_whoever_guesses_is_told_how_long_to_wait(open_page, script):
    page = open_page(width=360, script=script)
    for n in range(6):
        type_in(page, password=f"guess-{n}")
    page.get_by_role("heading", name="Too often for now").wait_for()
    assert page.get_by_text("Please wait 5 minutes").is_visible()
    if script:
        clean(page, 360)


@pytest.mark.parametrize(("width", "scheme"), [(1440, "dark"), (360, "light")])
def test_house_staff_end_an_account(open_page, width, scheme):
    """What is sensitive asks for the password first, and goes on with what was asked for."""
    page = open_page("ida@house.example", width=width, scheme=scheme)
    open_page(NOOR)
    page.goto("/house/people/?q=noor")
    page.get_by_role("link", name="Noor Marsh").click()
    page.get_by_role("heading", name="Noor Marsh").wait_for()
    clean(page, width)
    page.get_by_role("button", name="End the account").click()
    page.get_by_role("heading", name="Your password once more").wait_for()
    clean(page, width)
    page.get_by_label("Password").fill(WORD)
    page.get_by_role("button", name="Go on").click()
    page.get_by_text("The account of Noor Marsh is ended.").wait_for()
    clean(page, width)
    assert page.get_by_role("button", name="Open it again").is_visible()
