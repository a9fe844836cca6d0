"""The demo house that tests put back is the one that the command makes."""

import pathlib

from django.db import transaction

from sites.models import Person
from tests import demo_house
from tests.sites.test_demo import rows


def test_what_is_put_back_is_what_was_typed_in_photos_and_all(db, monkeypatch, settings, tmp_path):
    monkeypatch.setattr(demo_house, "_kept", {})
    settings.PROOFS = tmp_path
    with transaction.atomic():
        demo_house.put_in_place()
        typed, files = rows(), contents(tmp_path)
        transaction.set_rollback(True)
    assert len(typed["Site"]) > 2 and typed["Answer"] and typed["HistoricalHost"] and typed["Proof"]
    assert {tmp_path / one["place"] for one in typed["Proof"]} <= set(files)
    for path in files:
        path.unlink()
    monkeypatch.setattr(demo_house, "call_command", None)  # it is not typed in again
    demo_house.put_in_place()
    assert rows() == typed and contents(tmp_path) == files
    new = Person.objects.create_user(
        "new@larkfield.example", name="New"
    )  # beside them, not over one of them
    assert Person.objects.count() == len(typed["Person"]) + 1 and new.pk not in {
        one["id"] for one in typed["Person"]
    }


def contents(folder: pathlib.Path) -> dict[pathlib.Path, bytes]:
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
