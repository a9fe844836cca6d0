"""The home page: what needs attention first, search, pages."""

from sites.actions.customers import make_customer
from sites.actions.records import make_site
from sites.models import Site


def fill(staff, count):
    for n in range(count):
        made = make_customer(
            by=staff, values={"name": f"Customer {n:03}", "code": f"c{n}", "reference": f"R-{n}"}
        )
        make_site(by=staff, customer=made, code="yard", name=f"Yard {n:03}")


def test_stoppers_come_first(staff, enter):
    fill(staff, 3)
    Site.objects.filter(name="Yard 002").update(stoppers=4)
    page = enter(staff).get("/").content.decode()
    assert page.index("Yard 002") < page.index("Yard 000") < page.index("Yard 001")


def test_a_long_list_has_pages(staff, enter):
    fill(staff, 60)
    client = enter(staff)
    first, second = (
        client.get("/").content.decode(),
        client.get("/", {"page": "2"}).content.decode(),
    )
    assert (
        "60 sites" in first
        and "Page 1 of 2" in first
        and "Yard 059" not in first
        and "Yard 059" in second
    )
    assert "More than 50 customers" in first
    assert client.get("/", {"page": "nonsense"}).status_code == 200


def test_search_finds_customers_too_and_says_how_many(staff, enter):
    fill(staff, 12)
    client = enter(staff)
    page = client.get("/", {"q": "customer 01"}, headers={"HX-Request": "true"}).content.decode()
    assert (
        "<html" not in page
        and "2 sites found" in page
        and "Yard 010" in page
        and "Yard 009" not in page
    )
    assert "Customer 011" in client.get("/", {"q": "R-11"}).content.decode()
    none = client.get("/", {"q": "<script>"}).content.decode()
    assert "Nothing found for “&lt;script&gt;”" in none
