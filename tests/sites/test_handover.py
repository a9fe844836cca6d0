"""The handover pack: one file with the book, the sheets, the answers and the proofs."""

import csv
import io
import json
import zipfile

import openpyxl
import pytest
from pypdf import PdfReader

from sites.actions.proofs import keep, path_of
from sites.actions.stages import give_answer
from sites.demo.drawn import drawn_photo
from sites.models import Answer, Person, Proof, Site
from tests import demo_house


@pytest.fixture
def harbour(db):
    demo_house.put_in_place()
    return Site.objects.select_related("customer").get(code="harbour")


def opened(response) -> zipfile.ZipFile:
    found = zipfile.ZipFile(io.BytesIO(b"".join(response.streaming_content)))
    assert found.testzip() is None
    return found


def test_the_pack_of_the_finished_site_holds_everything(harbour, enter):
    client = enter(Person.objects.get(email="eve@larkfield.example"))
    response = client.get("/at/larkfield/harbour/print/handover.zip")
    assert "larkfield-harbour-handover.zip" in response["Content-Disposition"]
    found = opened(response)
    assert len(PdfReader(io.BytesIO(found.read("build-book.pdf"))).pages) > 40
    sheets = openpyxl.load_workbook(io.BytesIO(found.read("sheets-as-built.xlsx")))
    cells = {cell for sheet in sheets for row in sheet.iter_rows(values_only=True) for cell in row}
    assert "10.45.1.24" in cells and "10.45.1.22" not in cells  # built otherwise than planned
    assert json.loads(found.read("site.json"))
    rows = list(csv.DictReader(io.StringIO(found.read("answers.csv").decode("utf-8-sig"))))
    assert len(rows) == Answer.objects.filter(site=harbour).count()
    names = [name for name in found.namelist() if name.startswith("proofs/")]
    assert len(names) == Proof.objects.filter(site=harbour).count() > 0
    told = {name for row in rows for name in row["photos and files"].split(", ") if name}
    assert {f"proofs/{name}" for name in told} == set(names)
    assert "secret" in found.read("read-first.txt").decode()


def test_what_was_typed_is_no_formula_and_no_path(site, staff, people, enter):
    give_answer(
        by=staff,
        site=site,
        key="../../etc/passwd@x",
        state="proven",
        proof='=HYPERLINK("http://x.example")',
    )
    found = opened(enter(people["reader"]).get("/at/larkfield/mill/print/handover.zip"))
    text = found.read("answers.csv").decode("utf-8-sig")
    assert "'=HYPERLINK" in text and all(".." not in name for name in found.namelist())


@pytest.fixture
def lost(site, staff):
    """A photo that stands behind an answer and is not in the folder any more, beside one that is."""
    answer = give_answer(by=staff, site=site, key="room-seen", state="proven", proof="seen")
    lost, _ = keep(answer, [drawn_photo("The rack"), drawn_photo("The door")])
    path_of(site, lost.place).unlink()
    return lost


def test_a_proof_that_is_gone_is_told_by_name_in_the_pack(lost, people, enter):
    found = opened(enter(people["reader"]).get("/at/larkfield/mill/print/handover.zip"))
    name = f"room-seen/{lost.pk}-{lost.name}"
    assert [one for one in found.namelist() if one.startswith("proofs/")] == [
        f"proofs/room-seen/{lost.pk + 1}-{lost.answer.proofs.last().name}"
    ]
    assert name in found.read("missing-proofs.txt").decode()
    assert "1 of the photos and files are not in this pack" in found.read("read-first.txt").decode()
    [row] = csv.DictReader(io.StringIO(found.read("answers.csv").decode("utf-8-sig")))
    assert f"{name} (missing)" in row["photos and files"].split(", ")


def test_a_whole_pack_speaks_of_nothing_missing(site, people, enter):
    found = opened(enter(people["reader"]).get("/at/larkfield/mill/print/handover.zip"))
    assert "missing" not in found.read("read-first.txt").decode()
    assert "missing-proofs.txt" not in found.namelist()


def test_a_proof_that_is_gone_is_told_by_name_on_its_pages(lost, people, enter):
    client = enter(people["reader"])
    for page in ("answer/room-seen", "run/1/whole"):
        text = client.get(f"/at/larkfield/mill/{page}").content.decode()
        assert f"Missing: {lost.name}, photo." in text, page
        assert f"/proof/{lost.pk}" not in text and f"/proof/{lost.pk + 1}" in text
