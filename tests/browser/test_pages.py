"""Pages in a real browser: wide and narrow, light and dark, with and without script."""

import pytest

from tests import demo_house
from tests.browser.clean import violations
from tests.shares import every

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
BENCH = "/at/larkfield/bench/"
MILL = "/at/larkfield/mill/"
PAGES = [
    "/",
    "/you",
    "/you/sessions",
    "/sign-in/2fa/",
    "/sign-in/logout/",
    "/sign-in/2fa/totp/activate/",
    "/at/larkfield/",
    BENCH + "brief/",
    BENCH + "networks/",
    BENCH + "hosts/?add=hosts",
    BENCH + "desktops/",
    BENCH + "capacity/",
    MILL + "capacity/",
    BENCH + "addresses/",
    MILL + "addresses/?ports=firewall",
    MILL + "addresses/?ports=machine",
    MILL + "addresses/?ports=pairs",
    BENCH + "stages/",
    BENCH + "stages/2/",
    BENCH + "papers/",
    BENCH + "changes",
    BENCH + "removals",
    BENCH + "paste/hosts",
    BENCH + "assumptions",
    BENCH + "assume/storage.free-share",
    MILL + "what-if",
    MILL + "ask/buy-for-more",
    MILL + "day",
    MILL + "pilot",
    MILL + "probe/",
    BENCH + "addresses/lay-out",
    MILL + "addresses/carve",
    BENCH + "addresses/ranges",
    BENCH + "copy",
    BENCH + "remove-site",
    "/sign-in/password/change/",
    "/at/larkfield/harbour/papers/",
]
HOUSE = [
    "/house/people/",
    "/house/customers/",
    "/house/customers/larkfield",
    "/house/people/invite",
    "/house/assumptions/",
    "/house/work/",
    "/house/work/add/step",
    "/house/work/add/check",
    "/house/times/",
    "/house/times/save-image",
]


@pytest.fixture(autouse=True)
def demo(transactional_db):
    demo_house.put_in_place()


@pytest.mark.parametrize(("width", "scheme"), [(1440, "light"), (1440, "dark"), (360, "light")])
@pytest.mark.parametrize(
    ("who", "pages"), [("noor@larkfield.example", PAGES), ("ida@house.example", HOUSE)]
)
def test_pages_are_clean(open_page, who, pages, width, scheme):
    """axe finds nothing, nothing overflows sideways, the policy is not hit."""
    page = open_page(who, width=width, scheme=scheme)
    trouble = []
    for url in every(3, pages) if scheme == "dark" else pages:
        page.goto(url)
        found = violations(page, scheme)
        trouble += [(url, v["id"], v["nodes"][0]["html"][:150]) for v in found]
        if page.evaluate("document.documentElement.scrollWidth") > width:
            trouble.append((url, "wider than the window", ""))
    assert trouble == []
    assert open_page.errors == []


@pytest.mark.parametrize("script", [True, False])
def test_a_lead_makes_a_site_and_keeps_its_record(open_page, script):
    """The main path, with and without JavaScript."""
    page = open_page("noor@larkfield.example", script=script)
    page.goto("/at/larkfield/")
    page.get_by_text("Add a site", exact=True).click()
    page.get_by_label("Site name").fill("Orchard Row")
    page.get_by_label("Code").first.fill("orchard")
    page.get_by_role("button", name="Add the site").click()
    page.get_by_role("heading", name="1 Brief").wait_for()
    page.goto("/at/larkfield/orchard/hosts/")
    page.get_by_role("link", name="Add a host").click()
    page.get_by_label("Name", exact=True).fill("mill-h1")
    page.get_by_label("Memory").fill("96 GiB")
    page.get_by_label("Memory").press("Enter")
    page.get_by_role("rowheader", name="mill-h1").wait_for()
    assert page.locator("tbody tr").first.get_by_text("96", exact=True).is_visible()
    page.get_by_role("link", name="Edit mill-h1").click()
    page.get_by_label("Memory").fill("lots")
    page.get_by_role("button", name="Save").click()
    page.get_by_role("heading", name="There is a problem").wait_for()
    assert page.get_by_label("Memory").input_value() == "lots"
    assert page.title().startswith("Error: ") or script


def test_two_people_change_the_same_field(open_page):
    """Two real sessions: the second sees base, theirs and own, and chooses."""
    first, second = open_page("noor@larkfield.example"), open_page("tom@larkfield.example")
    for page in (first, second):
        page.goto(BENCH + "networks/")
        page.get_by_role("link", name="Edit also-everything").click()
        page.get_by_label("VLAN").wait_for()
    first.get_by_label("VLAN").fill("41")
    first.get_by_role("button", name="Save").click()
    first.get_by_text("Saved.").first.wait_for()
    second.get_by_label("VLAN").fill("42")
    second.get_by_role("button", name="Save").click()
    second.get_by_role("heading", name="Somebody else changed also-everything too").wait_for()
    assert second.get_by_text("It was: 40").is_visible()
    assert second.get_by_label("theirs: 41").is_checked()
    second.get_by_label("yours: 42").check()
    second.get_by_role("button", name="Save").click()
    second.get_by_text("Saved.").first.wait_for()
    assert (
        second.locator("tbody", has_text="also-everything")
        .get_by_text("42", exact=True)
        .is_visible()
    )


def test_a_check_is_answered_at_360_px(open_page):
    page = open_page("tom@larkfield.example", width=360)
    page.goto(BENCH + "stages/1/")
    page.locator(".checks a").first.click()
    page.get_by_label("proven").check()
    page.get_by_label("Proof, what was seen").fill("Signed letter, page 2.")
    page.get_by_role("button", name="Answer").click()
    page.get_by_text("Signed letter, page 2.").wait_for()


def test_values_are_tried_without_saving(open_page):
    """The what-if panel: figures move while somebody types, and are gone when they leave it."""
    page = open_page("tom@larkfield.example")
    page.goto(MILL + "capacity/")
    page.get_by_role("link", name="What if…").click()
    page.get_by_text("Nothing tried yet").wait_for()
    most = page.get_by_label("front desk, Most")
    most.press("Control+A")
    most.press_sequentially("90")
    page.get_by_role("heading", name="What moves").wait_for()
    page.locator(".moves tr", has_text="Desktops planned, at most").get_by_text("106").wait_for()
    assert most.evaluate("box => box === document.activeElement")  # typing goes on
    most.press("Control+A")
    most.press_sequentially("lots")
    page.get_by_role("heading", name="There is a problem").wait_for()
    page.get_by_label("front desk, Most").press("Control+A")
    page.get_by_label("front desk, Most").press_sequentially("22")
    page.get_by_role("button", name="Keep this").click()
    page.get_by_text("Kept: 1 records changed.").wait_for()
    page.goto(MILL + "desktops/")
    assert (
        page.locator("tbody", has_text="front desk")
        .first.get_by_text("22", exact=True)
        .is_visible()
    )
    assert [
        said for said in open_page.errors if "422" not in said
    ] == []  # the browser tells refusals of its own accord


def test_two_people_see_each_other_and_that_the_site_moved(open_page):
    first, second = open_page("noor@larkfield.example"), open_page("tom@larkfield.example")
    first.goto(BENCH + "networks/")
    first.wait_for_timeout(2600)  # an open page says so after two seconds
    second.goto(BENCH + "hosts/")
    second.get_by_text("Noor Marsh is here too, in 2 Networks").wait_for()
    first.get_by_role("link", name="Edit also-everything").click()
    first.get_by_label("VLAN").fill("44")
    first.get_by_role("button", name="Save").click()
    first.get_by_text("Saved.").first.wait_for()
    second.get_by_role("link", name="The site has moved on").wait_for()
    assert second.evaluate("document.body.scrollWidth") <= 1440


def test_home_searches_while_somebody_types(open_page):
    page = open_page("noor@larkfield.example")
    page.goto("/")
    page.get_by_label("Search customers and sites").press_sequentially("mill")
    page.get_by_text("1 site for “mill”").wait_for()
    assert page.get_by_role("rowheader", name="Back-room bench").count() == 0
    assert page.get_by_label("Search customers and sites").evaluate(
        "box => box === document.activeElement"
    )
