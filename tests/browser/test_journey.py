"""The whole way in one browser: a new member comes in by the link, and leaves with the book and the sheet."""

import csv
import io
import re

import openpyxl
import pypdf
import pytest
from django.test import override_settings

from sites.actions.customers import make_customer, make_member
from sites.loading import read_site
from sites.models import Person, Site

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
AT = "/at/larkfield/orchard/"


@pytest.fixture
def house(transactional_db):
    staff = Person.objects.create_superuser("staff@house.example", "paper-and-pencil", name="Staff")
    customer = make_customer(by=staff, values={"name": "Larkfield Vets", "code": "larkfield"})
    lead = Person.objects.create_user(
        "noor@larkfield.example", "paper-and-pencil", name="Noor Marsh"
    )
    make_member(customer=customer, person=lead, role="lead")
    return customer


def invited(open_page) -> str:
    """A lead invites somebody new as a lead too; without a mail server the page tells the address to hand over."""
    page = open_page("noor@larkfield.example")
    page.goto("/at/larkfield/")
    page.get_by_text("Invite somebody").click()
    page.get_by_label("E-mail").fill("ann@larkfield.example")
    page.locator("#member-name").fill("Ann Lee")
    page.locator("#member-role").select_option("lead")
    page.get_by_role("button", name="Invite", exact=True).click()
    said = page.get_by_text("Hand this link to ann@larkfield.example yourself").inner_text()
    return re.search(r"http\S+", said)[0]


def comes_in(open_page, link):
    page = open_page()
    page.goto(link)
    assert page.get_by_label("Your name").input_value() == "Ann Lee"
    for label in ("Password", "Password again"):
        page.get_by_label(label, exact=True).fill("reeds-by-the-pond")
    page.get_by_role("button", name="Make the account and accept").click()
    page.get_by_text("You are lead at Larkfield Vets now").wait_for()
    page.goto("/")
    page.get_by_role("heading", name="Sites", exact=True).wait_for()
    return page


def add_row(page, chapter, thing, values):
    page.goto(AT + chapter + "/")
    page.get_by_role("link", name=f"Add a {thing}", exact=True).or_(
        page.get_by_role("link", name=f"Add an {thing}", exact=True)
    ).click()
    form = page.locator("form.record[data-guard]")
    more = form.locator("details summary").first
    if more.count():
        more.click()
    for label, value in values.items():
        box = form.get_by_label(label, exact=True)
        if box.evaluate("box => box.tagName") == "SELECT":
            box.select_option(label=value)
        else:
            box.fill(value)
    form.get_by_role("button", name="Save").click()
    page.get_by_text(re.compile(r"Added: ")).first.wait_for()


@override_settings(SENDS_MAIL=False)
def test_from_the_link_to_the_papers(open_page, house):
    page = comes_in(open_page, invited(open_page))

    # a site, its hosts, networks, a template, seats
    page.goto("/at/larkfield/")
    page.get_by_text("Add a site").click()
    page.get_by_label("Site name").fill("Orchard Row")
    page.get_by_label("Code", exact=True).fill("orchard")
    page.get_by_role("button", name="Add the site").click()
    page.get_by_role("heading", name="1 Brief").wait_for()
    add_row(
        page,
        "networks",
        "network",
        {
            "Name": "desks",
            "Purpose": "desktops",
            "VLAN": "40",
            "Subnet": "10.44.40.0/24",
            "Gateway": "10.44.40.1",
            "DHCP": "a range",
            "First address of the range": "10.44.40.250",
            "Last address of the range": "10.44.40.60",
            "Lease time": "1 day",
        },
    )
    for n in (1, 2):
        add_row(
            page,
            "hosts",
            "host",
            {
                "Name": f"orchard-h{n}",
                "Sockets": "2",
                "Cores per socket": "8",
                "Memory": "96 GiB",
                "Management network": "desks",
                "Management address": f"10.44.40.1{n}",
            },
        )
    add_row(page, "images", "image", {"Name": "office", "Disk used": "40 GiB"})
    add_row(
        page,
        "desktops",
        "desktop template",
        {
            "Name": "reception",
            "Image": "office",
            "Network": "desks",
            "Memory": "4 GiB",
            "vCPU": "2",
            "Most": "12",
            "Standby": "2",
        },
    )
    add_row(
        page,
        "desktops",
        "seat group",
        {"Name": "everybody", "Template": "reception", "People": "10"},
    )

    # a finding in the margin, mended by its button
    page.goto(AT + "networks/")
    note = page.locator(".note", has_text="the DHCP range ends before it begins")
    note.get_by_role("button", name="Swap the ends").click()
    page.get_by_text("Done: Swap the ends").first.wait_for()
    assert page.locator(".note", has_text="the DHCP range ends before it begins").count() == 0
    network = read_site(Site.objects.select_related("customer").get(code="orchard")).networks[0]
    assert (network.dhcp_first, network.dhcp_last) == ("10.44.40.60", "10.44.40.250")

    # every check of the first gate answered, the gate signed
    for _ in range(60):
        page.goto(AT + "stages/1/")
        still = page.locator(".checks li:has(.answer-open) h3 a")
        if not still.count():
            break
        still.first.click()
        page.get_by_label("on trust").check()
        page.get_by_role("button", name="Answer").click()
        page.get_by_role("heading", name="Checks").wait_for()
    page.get_by_role("button", name="Sign gate 1").click()
    page.get_by_text("Gate 1 is signed.").wait_for()
    assert page.get_by_text("Signed by Ann Lee").is_visible()

    # a revision, the book, the sheets
    page.goto(AT + "papers/")
    page.get_by_label("Reason").fill("For the network's owner")
    page.get_by_role("button", name="Freeze revision A").click()
    page.get_by_text("Revision A is frozen").wait_for()
    with page.expect_download() as got:
        page.get_by_role("link", name="Book A").click()
    book = pypdf.PdfReader(got.value.path())
    words = "".join(one.extract_text() for one in book.pages)
    assert (
        "Orchard Row" in words
        and "orchard-h2" in words
        and "revision A" in words.replace("Revision", "revision")
    )
    with page.expect_download() as got:
        page.get_by_role("link", name="Allocation sheet, XLSX").click()
    cells = [
        cell
        for row in openpyxl.load_workbook(
            io.BytesIO(got.value.path().read_bytes())
        ).active.iter_rows(values_only=True)
        for cell in row
    ]
    assert "10.44.40.11" in cells and "10.44.40.12" in cells
    with page.expect_download() as got:
        page.get_by_role("link", name="Port sheet, CSV").click()
    rows = list(csv.reader(io.StringIO(got.value.path().read_text(encoding="utf-8-sig"))))
    assert len(rows) > 3 and any("443" in cell for row in rows for cell in row)
    assert open_page.errors == []
