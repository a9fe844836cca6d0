"""The port sheet as it leaves the tool: what was seen to pass, ends out in the world, ends with very many addresses."""

from __future__ import annotations

import dataclasses
import datetime as dt
import ipaddress

from planner.papers.sheets.files import port_sheet
from planner.papers.sheets.ports import ADDRESSES
from planner.plan import Plan
from planner.record import facts as f
from tests.engine.test_flows import small_site
from tests.engine.test_flows_decided import outside_site
from tests.factories import site_facts


def rows(facts: f.SiteFacts) -> list[dict]:
    sheet = port_sheet(Plan(facts))
    return [
        dict(zip((column.title for column in sheet.columns), row, strict=True))
        for row in sheet.rows
    ]


def test_each_line_says_whether_it_was_seen_to_pass():
    facts = site_facts(*small_site())
    assert {row["Seen to pass"] for row in rows(facts)} == {"open"}
    at = dt.datetime(2026, 3, 2, tzinfo=dt.UTC)
    answers = (
        f.Answer(check="flows-open", state="trust", at=at),
        f.Answer(check="key-server-found", state="proven", at=at),
    )
    said = {
        row["What"]: row["Seen to pass"]
        for row in rows(dataclasses.replace(facts, answers=answers))
    }
    assert said["activation"] == "proven" and said["entry"] == "on trust"


def test_the_world_outside_is_no_unknown_place():
    [row] = [
        row
        for row in rows(site_facts(*outside_site()))
        if row["What"] == "from outside" and row["Protocol"] == "TCP"
    ]
    assert (row["From network"], row["From addresses"]) == ("outside", "any")
    assert (row["To network"], row["To addresses"], row["Port"]) == (
        "perimeter",
        "10.44.5.4",
        "443",
    )


def test_no_address_is_cut_in_its_middle():
    first = ipaddress.IPv4Address("100.100.100.1")
    devices = [
        f.Device(id=n, name=f"pr-{n}", what="printer", network_id=2, address=str(first + n))
        for n in range(1, 4001)
    ]
    text = next(
        row for row in rows(site_facts(*small_site(), *devices)) if row["What"] == "printers"
    )["To addresses"]
    shown, _, more = text.partition(" and ")
    assert [str(ipaddress.ip_address(one)) for one in shown.split(", ")] == [
        one.address for one in devices[:ADDRESSES]
    ]
    assert more == "2,200 more"
    assert (
        len(text) < 32_000
    )  # Source: the spreadsheet format's own limit, 32,767 letters a cell (ECMA-376)
