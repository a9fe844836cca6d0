"""Configurations downloaded from the demo house, and that the real programs take them."""

from __future__ import annotations

import io
import re
import zipfile

import pytest
from django.db import transaction

from planner.papers.configs import CONFIGS, Config
from sites.demo import load_house
from sites.models import Person, Site
from tests.papers.config_checkers import accepted

HOUSE = (
    "larkfield/bench",
    "larkfield/mill",
    "larkfield/harbour",
    "brackenhythe/workshop",
    "northmere/campus",
)
ENDINGS = {
    "dhcp-kea": "json",
    "dhcp-dnsmasq": "conf",
    "zones": "zip",
    "firewall": "nft",
    "hosts": "txt",
}


@pytest.fixture(scope="module")
def house(django_db_setup, django_db_blocker):
    """The demo house, loaded once for these tests."""
    with django_db_blocker.unblock(), transaction.atomic():
        load_house()
        yield
        transaction.set_rollback(True)


@pytest.fixture
def reader(house, db, client):
    """Somebody of the house's staff, who sees every customer."""
    client.force_login(Person.objects.get(email="ida@house.example"))
    return client


def read(slug: str, content: bytes) -> Config:
    """A download as the checkers take it."""
    if slug != "zones":
        return Config(content.decode())
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        assert archive.testzip() is None
        return Config("", files={name: archive.read(name).decode() for name in archive.namelist()})


@pytest.mark.parametrize("slug", sorted(CONFIGS))
@pytest.mark.parametrize("place", HOUSE)
def test_the_real_programs_take_what_is_downloaded(reader, place, slug, tmp_path):
    response = reader.get(f"/at/{place}/print/config/{slug}")
    assert response.status_code == 200 and response["Content-Type"] == CONFIGS[slug].media_type
    name = re.fullmatch(
        r'attachment; filename="([a-z0-9-]+\.[a-z]+)"', response["Content-Disposition"]
    )[1]
    assert name == f"{place.replace('/', '-')}-{CONFIGS[slug].slug}-draft.{ENDINGS[slug]}"
    assert response["Cache-Control"] == "private, no-store"
    accepted(slug, read(slug, response.content), tmp_path)


def test_the_demo_house_is_what_is_tested(house, db):
    assert {
        f"{one.customer.code}/{one.code}" for one in Site.objects.select_related("customer")
    } == set(HOUSE)
