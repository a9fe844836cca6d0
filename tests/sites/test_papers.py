"""Revisions, comparison, history, acceptance, mends."""

import datetime as dt

import pytest

from planner.comparing.differences import compare
from planner.record import facts as f
from sites.actions.papers import freeze, letter_of
from sites.actions.records import add_record, change_record, remove_record
from sites.loading import read_site
from sites.models import Acceptance, Revision

URL = "/at/larkfield/mill/"


def test_letters_go_on_after_z():
    assert [letter_of(n) for n in (1, 2, 26, 27, 52, 53, 703)] == [
        "A",
        "B",
        "Z",
        "AA",
        "AZ",
        "BA",
        "AAA",
    ]


def test_a_revision_holds_the_whole_plan_and_tells_what_moved(site, staff, people, enter):
    host = add_record(
        by=staff, site=site, kind="host", values={"name": "mill-h1", "memory_gib": 64.0}
    )
    revision = freeze(by=staff, site=site, reason="first")
    facts = read_site(site)
    assert (
        f.fingerprint(f.from_json(revision.content)) == revision.fingerprint == f.fingerprint(facts)
    )
    assert compare(f.from_json(revision.content), facts) == []
    change_record(by=staff, kind="host", pk=host.pk, opened_at=1, values={"memory_gib": 96.0})
    add_record(by=staff, site=site, kind="image", values={"name": "office"})
    found = compare(f.from_json(Revision.objects.get().content), read_site(site))
    assert [(d.chapter, d.record, d.field, d.before, d.after) for d in found] == [
        (3, "mill-h1", "Memory", "64 GiB", "96 GiB"),
        (6, "office", "", "", "there"),
    ]
    page = enter(people["reader"]).get(URL + "differences?from=A").content.decode()
    assert "64 GiB" in page and "96 GiB" in page


def test_freezing_needs_a_reason(site, people, enter):
    enter(people["lead"]).post(URL + "freeze", {"reason": " "})
    assert not Revision.objects.exists()
    page = (
        enter(people["lead"])
        .post(URL + "freeze", {"reason": "for the network's owner"}, follow=True)
        .content.decode()
    )
    assert "Revision A is frozen" in page and Revision.objects.get().fingerprint in page


def test_history_shows_who_and_old_and_new(site, staff, people, enter):
    host = add_record(
        by=staff, site=site, kind="host", values={"name": "mill-h1", "memory_gib": 64.0}
    )
    change_record(
        by=people["editor"], kind="host", pk=host.pk, opened_at=1, values={"memory_gib": 96.0}
    )
    host.refresh_from_db()
    remove_record(by=people["lead"], record=host)
    page = enter(people["reader"]).get(f"{URL}changes?of=host-{host.pk}").content.decode()
    assert "Memory: 64 GiB → 96 GiB" in page and "removed" in page and "added" in page
    assert "editor@larkfield.example" in page and "lead@larkfield.example" in page
    assert enter(people["reader"]).get(f"{URL}changes?of=nonsense").status_code == 404


def test_accepting_needs_a_reason_and_a_day_to_come(site, people, enter, trial_rule):
    client, url = enter(people["lead"]), f"{URL}accept/{trial_rule(site)}"
    for typed in (
        {"reason": "fine", "look_again": "2001-01-01"},
        {"reason": "", "look_again": "2999-01-01"},
    ):
        assert client.post(url, typed).status_code == 422
    assert not Acceptance.objects.exists()
    page = client.post(
        url, {"reason": "Agreed by telephone.", "look_again": "1 Jan 2999"}, follow=True
    ).content.decode()
    assert "Agreed by telephone." in page and "nothing stands in the way" in page
    client.post(f"{URL}withdraw/{trial_rule(site)}")
    assert "1 concern" in client.get(URL + "brief/").content.decode()


def test_an_acceptance_ends_on_its_day(site, staff, trial_rule):
    from planner import work_out
    from sites.actions.papers import accept

    finding = work_out(read_site(site)).review.findings[0]
    accept(
        by=staff,
        site=site,
        finding=finding,
        reason="x",
        look_again=dt.date.today() - dt.timedelta(days=1),
    )
    assert work_out(read_site(site)).review.findings[0].accepted is False


@pytest.mark.parametrize("headers", [{}, {"HX-Request": "true"}])
def test_a_mend_types_what_the_finding_offers(site, people, enter, trial_rule, headers):
    client = enter(people["editor"])
    assert "Write a scope" in client.get(URL + "brief/").content.decode()
    response = client.post(f"{URL}mend/{trial_rule(site)}", headers=headers)
    assert response.status_code == (200 if headers else 302)
    site.refresh_from_db()
    assert (
        site.scope == "Desktops for everybody."
        and site.edits == 2
        and site.changed_by == people["editor"]
    )


def test_the_home_page_knows_how_a_site_stands_and_costs_the_same(
    site, staff, customer, people, enter, trial_rule
):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from sites.actions.records import make_site

    client = enter(people["reader"])
    client.get(URL + "brief/")
    with CaptureQueriesContext(connection) as one:
        page = client.get("/").content.decode()
    assert "1 concern" in page and "0 of 8" not in page.split("Mill Street")[0]
    for number in range(10):
        make_site(by=staff, customer=customer, code=f"s{number}", name=f"Site {number}")
    with CaptureQueriesContext(connection) as many:
        client.get("/")
    assert len(one) == len(many)


@pytest.mark.parametrize("letter", ["", "A"])
def test_the_build_book_is_printed_and_noted(site, staff, people, enter, letter):
    import io

    from pypdf import PdfReader

    from sites.models import Printed

    freeze(by=staff, site=site, reason="first")
    url = URL + "print/build-book.pdf" + (f"?revision={letter}" if letter else "")
    response = enter(people["reader"]).get(url)
    assert (
        response["Content-Type"] == "application/pdf"
        and "attachment" in response["Content-Disposition"]
    )
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(response.content)).pages)
    assert (
        "Mill Street" in text
        and Printed.objects.get().fingerprint in text
        and f.fingerprint(read_site(site)) in text
    )


@pytest.mark.parametrize("name", ["allocation-sheet", "port-sheet"])
@pytest.mark.parametrize("ending", ["xlsx", "csv"])
def test_sheets_open_again_and_hold_no_formula(site, staff, people, enter, name, ending):
    import csv
    import io

    from openpyxl import load_workbook

    net = add_record(
        by=staff, site=site, kind="network", values={"name": "management", "cidr": "10.44.1.0/24"}
    )
    values = {"name": "=1+1", "network": net, "address": "10.44.1.11"}
    add_record(by=staff, site=site, kind="host", values=values)
    response = enter(people["reader"]).get(f"{URL}print/{name}.{ending}")
    assert response.status_code == 200 and f".{ending}" in response["Content-Disposition"]
    if ending == "csv":
        cells = [
            cell
            for row in csv.reader(io.StringIO(response.content.decode("utf-8-sig")))
            for cell in row
        ]
        assert not any(cell.startswith("=") for cell in cells)
    else:
        tab = load_workbook(io.BytesIO(response.content)).worksheets[0]
        cells = [cell.value for row in tab for cell in row]
        assert not any(cell.data_type == "f" for row in tab for cell in row)
    if name == "allocation-sheet":
        assert any("=1+1" in str(cell) for cell in cells) and "10.44.1.11" in cells


def test_there_is_no_other_sheet(site, people, enter):
    assert enter(people["reader"]).get(f"{URL}print/secrets.csv").status_code == 404


# -- parts of the book ---------------------------------------------------------------------------


def _pdf(response) -> tuple[str, dict]:
    import io

    from pypdf import PdfReader

    reader = PdfReader(io.BytesIO(response.content))
    return " ".join(" ".join(page.extract_text().split()) for page in reader.pages), reader.metadata


@pytest.mark.parametrize("slug", ["run-sheets", "network", "customer"])
def test_a_part_of_the_book_is_printed_and_noted(site, people, enter, slug):
    from planner.papers.book import PARTS
    from sites.models import Printed

    part = next(one for one in PARTS if one.slug == slug)
    response = enter(people["reader"]).get(f"{URL}print/build-book.pdf?part={slug}")
    assert response["Content-Type"] == "application/pdf"
    assert f'filename="larkfield-mill-{slug}-draft.pdf"' in response["Content-Disposition"]
    text, about = _pdf(response)
    assert about.title.startswith(f"{part.title}: ") and part.holds in text
    assert Printed.objects.get().paper == part.title.lower()


def test_there_is_no_other_part(site, people, enter):
    assert enter(people["reader"]).get(f"{URL}print/build-book.pdf?part=secrets").status_code == 404


def test_codes_lead_to_this_house(site, people, enter):
    import io

    from pypdf import PdfReader

    response = enter(people["reader"]).get(f"{URL}print/build-book.pdf?part=run-sheets")
    pages = PdfReader(io.BytesIO(response.content)).pages
    links = [
        note.get_object()["/A"]["/URI"]
        for page in pages
        for note in page.get("/Annots", [])
        if "/A" in note.get_object()
    ]
    home = f"http://testserver{URL}"
    assert links == [home, *(f"{home}run/{number}/" for number in range(1, 9))]
    assert all(enter(people["reader"]).get(link).status_code == 200 for link in links[1:3])


def test_the_book_says_what_changed_since_the_revision_before(site, staff, people, enter):
    host = add_record(
        by=staff, site=site, kind="host", values={"name": "mill-h1", "memory_gib": 64.0}
    )
    freeze(by=staff, site=site, reason="first")
    change_record(by=staff, kind="host", pk=host.pk, opened_at=1, values={"memory_gib": 96.0})
    freeze(by=staff, site=site, reason="second")
    client = enter(people["reader"])
    text, _ = _pdf(client.get(URL + "print/build-book.pdf?revision=B"))
    assert (
        "11.4 What changed since revision A" in text
        and "mill-h1 (host) Memory 64 GiB 96 GiB" in text
    )
    text, _ = _pdf(client.get(URL + "print/build-book.pdf?revision=A"))
    assert "There is no earlier revision to compare with." in text
    text, _ = _pdf(client.get(URL + "print/build-book.pdf"))
    assert "Nothing that is planned here differs from revision B" in text


def test_the_papers_page_offers_the_parts_in_order(site, staff, people, enter):
    from planner.papers.book import PARTS

    freeze(by=staff, site=site, reason="first")
    page = enter(people["reader"]).get(URL + "papers/").content.decode()
    for part in PARTS:
        assert f'<option value="{part.slug}">' in page and f"?part={part.slug}" in page
        assert part.title.replace("'", "&#x27;") in page and part.holds in page
    assert '<option value="A">revision A</option>' in page
    numbers = ["11.1</span>", "11.2</span>", "11.3</span>", "11.4</span>"]
    assert [page.index(number) for number in numbers] == sorted(
        page.index(number) for number in numbers
    )


def test_a_revision_keeps_its_fingerprint_when_records_learn_new_fields(site, staff, people, enter):
    revision = freeze(by=staff, site=site, reason="first")
    revision.content["site"].pop("paper")  # as if it had been frozen before papers had a size
    Revision.objects.filter(pk=revision.pk).update(
        content=revision.content, fingerprint="1111-2222"
    )
    text, about = _pdf(enter(people["reader"]).get(URL + "print/build-book.pdf?revision=A"))
    assert "Revision A Fingerprint 1111-2222" in text and "1111-2222" in about.subject
