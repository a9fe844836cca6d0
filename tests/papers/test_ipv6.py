"""IPv6 is stored, validated and listed: it stands in the address sheet of the book and in the allocation sheet."""

from __future__ import annotations

import csv
import io

import pytest

from planner.papers.sheets import files as sheets
from planner.record import facts as f
from tests.factories import plan_of, site_facts
from tests.papers.test_book import built, text_of

NETWORK = f.Network(id=1, name="core", cidr="10.44.1.0/24", ipv6_prefix="2001:db8:44:1::/64")
MACHINES = (
    f.Host(id=2, name="mill-h1", network_id=1, ipv6_address="2001:db8:44:1::11"),
    f.Server(id=3, name="dc-1", network_id=1, ipv6_address="2001:db8:44:1::5"),
    f.Appliance(id=4, name="broker-1", network_id=1, ipv6_address="2001:db8:44:1::31"),
    f.Device(id=5, name="printer-1", network_id=1, ipv6_address="2001:db8:44:1::60"),
)
WRITTEN = ["2001:db8:44:1::5", "2001:db8:44:1::11", "2001:db8:44:1::31", "2001:db8:44:1::60"]


@pytest.mark.parametrize("records", [(NETWORK, *MACHINES), MACHINES])
def test_the_books_address_sheet_lists_it(records):
    """Also where nobody wrote a network down."""
    text = " ".join(text_of(built(site_facts(*records))))
    assert "IPv6 addresses" in text and all(address in text for address in WRITTEN)
    assert ("IPv6 2001:db8:44:1::/64" in text) is (NETWORK in records)


def test_the_allocation_sheet_lists_it_by_address_after_ipv4():
    sheet = sheets.allocation_sheet(plan_of(NETWORK, *MACHINES))
    rows = list(csv.reader(io.StringIO(sheets.write_csv(sheet).decode("utf-8-sig"), newline="")))
    column = [row[3] for row in rows]
    six = [text for text in column if ":" in text]
    assert six == ["2001:db8:44:1::", *WRITTEN]
    assert max(at for at, text in enumerate(column) if "." in text) < column.index(six[0])


def test_every_machine_with_an_address_has_a_field_for_it():
    """Four kinds of machines hold addresses of their own; the service answers at its appliances'."""
    kinds = {
        kind
        for kind, cls in f.RECORDS.items()
        if {"address", "mac"} <= set(cls.__dataclass_fields__)
    }
    assert kinds == {one.kind for one in MACHINES}
    assert all("ipv6_address" in f.RECORDS[kind].__dataclass_fields__ for kind in kinds)
