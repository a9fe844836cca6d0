"""Pages that a secret opens, in a real browser: they can be read, and sent.

A browser sends no origin from a page that forbids its referrer, and a POST without one is refused: no test client
notices.
"""

import os
import pathlib

import pytest

from sites.actions.invitations import invite
from sites.actions.own_address import ask
from sites.actions.pilot import make_link
from sites.models import Customer, Invitation, Person, PilotResult, Site
from tests import demo_house
from tests.browser.clean import violations

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
NOOR = "noor@larkfield.example"


@pytest.fixture(autouse=True)
def demo(transactional_db):
    demo_house.put_in_place()


def noor() -> Person:
    return Person.objects.get(email=NOOR)


def invited(email: str, by_letter: bool) -> str:
    made, secret = invite(
        by=noor(), customer=Customer.objects.get(code="larkfield"), email=email, role="editor"
    )
    Invitation.objects.filter(pk=made.pk).update(by_letter=by_letter)
    return f"/invitation/{secret}"


def test_a_pilot_person_sends_the_sheet(open_page):
    site = Site.objects.get(code="mill")
    _, token = make_link(by=noor(), site=site, person="Eve Sand", days=2)
    page = open_page()
    page.goto(f"/pilot/{token}")
    page.locator("input[type=radio]").first.check()
    page.locator("button").last.click()
    page.get_by_text("Thank you: it is kept").wait_for()
    assert PilotResult.objects.count() == 1 and open_page.errors == []


def test_somebody_without_an_account_comes_in(open_page):
    page = open_page()
    page.goto(invited("ann@larkfield.example", by_letter=True))
    page.get_by_label("Your name").fill("Ann Lee")
    for label in ("Password", "Password again"):
        page.get_by_label(label, exact=True).fill("reeds-by-the-pond")
    page.get_by_role("button", name="Make the account and accept").click()
    page.get_by_text("You are editor at Larkfield Vets now").wait_for()


def test_somebody_with_an_account_signs_in_and_accepts(open_page):
    page = open_page()
    page.goto(invited("mara.quill@home.example", by_letter=False))
    page.get_by_role("link", name="Sign in", exact=True).click()
    page.get_by_label("Email").fill("mara@brackenhythe.example")
    page.get_by_label("Password").fill("paper-and-pencil")
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("button", name="Accept as Mara Quill").click()
    page.get_by_text("You are editor at Larkfield Vets now").wait_for()


def test_an_address_is_proven(open_page):
    secret = ask(by=noor(), email="noor.marsh@larkfield.example")
    page = open_page(NOOR)
    page.goto(f"/you/address/{secret}")
    page.get_by_role("button", name="Yes, it is mine").click()
    page.get_by_text("noor.marsh@larkfield.example is proven to be yours").wait_for()


@pytest.mark.parametrize(("width", "scheme"), [(1440, "light"), (1440, "dark"), (360, "light")])
def test_their_pages_are_clean(open_page, width, scheme):
    Person.objects.create_user("squatter@larkfield.example")
    anybody = open_page(width=width, scheme=scheme)
    trouble = _looked_at(
        anybody, "invitation", invited("ann@larkfield.example", by_letter=True), width, scheme
    )
    trouble += _looked_at(
        anybody,
        "invitation-taken",
        invited("squatter@larkfield.example", by_letter=True),
        width,
        scheme,
    )
    trouble += _looked_at(anybody, "invitation-ended", "/invitation/none", width, scheme)
    lead = open_page(NOOR, width=width, scheme=scheme)
    secret = ask(by=noor(), email="noor.marsh@larkfield.example")
    trouble += _looked_at(
        lead, "invitation-accept", invited("x@larkfield.example", by_letter=False), width, scheme
    )
    trouble += _looked_at(lead, "address-proof", f"/you/address/{secret}", width, scheme)
    trouble += _looked_at(lead, "customer", "/at/larkfield/", width, scheme)
    lead.goto("/you/address")
    lead.get_by_label("Password").fill("paper-and-pencil")
    lead.locator("button.primary").click()
    trouble += _looked_at(lead, "address", "/you/address", width, scheme)
    assert trouble == []


def _looked_at(
    page, name: str, url: str, width: int, scheme: str = "light"
) -> list[tuple[str, str, str]]:
    """What axe finds, and whether it runs over sideways. Keeps a picture where ``PICTURES`` says so."""
    page.goto(url)
    found = violations(page, scheme)
    trouble = [(name, one["id"], one["nodes"][0]["html"][:150]) for one in found]
    if page.evaluate("document.documentElement.scrollWidth") > width:
        trouble.append((name, "wider than the window", ""))
    folder = os.environ.get("PICTURES")
    if folder:
        page.screenshot(path=pathlib.Path(folder) / f"{name}-{width}.png", full_page=True)
    return trouble
