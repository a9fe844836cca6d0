"""Sheets: what is in them, that the files open again as they were, and that no cell is ever run."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import zipfile

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.papers import defuse
from planner.papers.sheets import files as sheets
from planner.plan import Plan
from planner.record import facts as f
from tests.engine.test_flows import LISTED, any_record, small_site
from tests.factories import plan_of, site_facts

IMPRINT = sheets.Imprint("Larkfield Vets", "Mill Street", "7KQ2-M9XD", "B")
TEXTS = st.text(max_size=40) | st.builds(
    "{}{}{}".format,
    st.sampled_from(["", " ", "\t", '"', "'", "\u00a0", "\r\n", "a;"]),
    st.sampled_from("=+-@＝"),
    st.text(max_size=12) | st.sampled_from(['run|"x"!A0', "1+1", "SUM(A1:A9)"]),
)


def as_dicts(sheet: sheets.Sheet) -> list[dict]:
    return [
        dict(zip((column.heading for column in sheet.columns), row, strict=True))
        for row in sheet.rows
    ]


def reopened(found: list[sheets.Sheet], imprint: sheets.Imprint = IMPRINT) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(sheets.write_xlsx(found, imprint)))


def raw(found: list[sheets.Sheet], part: str, imprint: sheets.Imprint = IMPRINT) -> str:
    with zipfile.ZipFile(io.BytesIO(sheets.write_xlsx(found, imprint))) as archive:
        return archive.read(part).decode()


def csv_rows(sheet: sheets.Sheet) -> list[list[str]]:
    return list(csv.reader(io.StringIO(sheets.write_csv(sheet).decode("utf-8-sig"), newline="")))


# -- what is in them -------------------------------------------------------------------------------


def allocated() -> list[dict]:
    return as_dicts(
        sheets.allocation_sheet(
            plan_of(
                f.Network(
                    id=1,
                    name="core",
                    purpose="management",
                    vlan=10,
                    cidr="10.44.1.0/24",
                    gateway="10.44.1.1",
                ),
                f.Network(
                    id=2,
                    name="desks",
                    cidr="10.44.2.0/25",
                    dhcp="range",
                    dhcp_first="10.44.2.10",
                    dhcp_last="10.44.2.59",
                    lease_minutes=1440,
                    ipv6_prefix="2001:db8:44:2::/64",
                ),
                f.Network(id=3, name="later"),
                f.Host(
                    id=1, name="mill-h1", network_id=1, address="10.44.1.9", mac="00:00:5e:00:53:01"
                ),
                f.Host(
                    id=2,
                    name="mill-h2",
                    network_id=1,
                    address="10.44.1.100",
                    out_of_band_address="10.44.1.20",
                ),
                f.Server(
                    id=1, name="dc-1", network_id=1, address="10.44.1.9", roles=("directory", "dns")
                ),
                f.Device(
                    id=1,
                    name="printer-1",
                    what="printer",
                    network_id=2,
                    address="10.44.2.70",
                    holding="reserved",
                    mac="00:00:5e:00:53:3c",
                    ipv6_address="2001:db8:44:2::70",
                ),
            )
        )
    )


def test_addresses_stand_in_the_order_of_their_numbers():
    addresses = [row["Address"] for row in allocated()]
    assert addresses == [
        "10.44.1.0",
        "10.44.1.1",
        "10.44.1.9",
        "10.44.1.9",
        "10.44.1.20",
        "10.44.1.100",
        "10.44.2.0",
        "10.44.2.10",
        "10.44.2.70",
        "",
        "",
        "",
        "2001:db8:44:2::",
        "2001:db8:44:2::70",
    ]
    later, *gateways = allocated()[9:12]
    assert later["To settle"] == "subnet not known yet"
    assert [(row["Name"], row["To settle"]) for row in gateways] == [
        ("desks", "no address yet"),
        ("later", "no address yet"),
    ]


def test_subnets_say_how_many_addresses_are_free():
    rows = allocated()
    core, desks = rows[0], rows[6]
    # Source: RFC 4632 section 3.1: a /24 has 256 addresses, a /25 has 128; two of each are nobody's
    assert (core["Addresses"], core["Free"]) == (254, 254 - 4)  # .1, .9, .20 and .100 are held
    assert (desks["Addresses"], desks["Free"]) == (126, 126 - 50 - 1)
    assert (core["VLAN"], core["Last address"]) == (10, "10.44.1.255")
    assert (
        next(row for row in rows if row["Name"] == "later")["To settle"] == "subnet not known yet"
    )


def test_dhcp_ranges_have_a_row():
    row = next(row for row in allocated() if row["Held"] == "leased")
    assert (row["Address"], row["Last address"], row["Addresses"]) == (
        "10.44.2.10",
        "10.44.2.59",
        50,
    )
    assert row["What it is"] == "DHCP range, lease 1 day"


def test_claims_say_whose_and_how():
    rows = {(row["Address"], row["Name"]): row for row in allocated()}
    printer = rows["10.44.2.70", "printer-1"]
    assert (printer["What it is"], printer["MAC"], printer["Held"]) == (
        "printer",
        "00:00:5e:00:53:3c",
        "reserved",
    )
    assert rows["10.44.1.9", "dc-1"]["What it is"] == "server: directory, DNS"
    assert (
        rows["10.44.1.9", "dc-1"]["To settle"]
        == rows["10.44.1.9", "mill-h1"]["To settle"]
        == "claimed more than once"
    )
    assert rows["10.44.1.100", "mill-h2"]["To settle"] == ""
    board = rows["10.44.1.20", "mill-h2"]
    assert (board["What it is"], board["MAC"]) == ("out of band", "")
    assert rows["2001:db8:44:2::70", "printer-1"]["Subnet"] == "2001:db8:44:2::/64"


def test_the_port_sheet_has_every_flow_with_its_addresses():
    plan = Plan(site_facts(*small_site()))
    rows = as_dicts(sheets.port_sheet(plan))
    assert [row["No."] for row in rows] == list(range(1, len(plan.flows.flows) + 1))
    entry = rows[0]
    assert (entry["From network"], entry["From addresses"]) == ("lan", "10.44.3.0/24")
    assert (entry["To network"], entry["To addresses"]) == ("core", "10.44.1.30")
    assert (entry["Protocol"], entry["Port"], entry["IANA name"], entry["Crosses"]) == (
        "TCP",
        "443",
        "https",
        "firewall",
    )
    assert entry["Source"].startswith("RFC 9110")


def test_an_empty_site_has_empty_sheets():
    plan = plan_of()
    for sheet in (sheets.allocation_sheet(plan), sheets.port_sheet(plan)):
        assert sheet.rows == ()
        assert len(csv_rows(sheet)) == 1
        assert reopened([sheet]).worksheets[0].max_row == 1


@settings(max_examples=60, deadline=None)
@given(st.lists(st.one_of(*map(any_record, LISTED)), max_size=10), any_record(f.Service))
def test_any_facts_give_files_that_open(records, service):
    plan = Plan(site_facts(*records, service))
    found = [sheets.allocation_sheet(plan), sheets.port_sheet(plan)]
    book = reopened(found, sheets.imprint(plan))
    for sheet, tab in zip(found, book.worksheets, strict=True):
        assert all(len(row) == len(sheet.columns) for row in sheet.rows)
        assert tab.max_row == len(sheet.rows) + 1
        assert len(csv_rows(sheet)) == len(sheet.rows) + 1
        assert not [cell for row in tab.iter_rows() for cell in row if cell.data_type in "fe"]


# -- files -----------------------------------------------------------------------------------------


def one(*values, kind: str = "text") -> sheets.Sheet:
    return sheets.Sheet(
        "One", "One sheet", (sheets.Column("Value", kind),), tuple((value,) for value in values)
    )


def test_numbers_days_and_texts_keep_their_type():
    sheet = sheets.Sheet(
        "Types",
        "Types",
        (
            sheets.Column("Name"),
            sheets.Column("Memory", "number", unit="GiB"),
            sheets.Column("VLAN", "integer"),
            sheets.Column("Day", "date"),
            sheets.Column("Address", "address"),
        ),
        (("mill-h1", -5.25, 40, dt.date(2026, 3, 2), "10.44.1.11"), (None, None, None, None, None)),
    )
    tab = reopened([sheet]).worksheets[0]
    assert [cell.value for cell in tab[1]] == ["Name", "Memory, GiB", "VLAN", "Day", "Address"]
    assert [cell.value for cell in tab[2]] == [
        "mill-h1",
        -5.25,
        40,
        dt.datetime(2026, 3, 2),
        "10.44.1.11",
    ]
    assert [cell.data_type for cell in tab[2]] == ["s", "n", "n", "d", "s"]
    assert [cell.number_format for cell in tab[2]] == ["@", "#,##0.0##", "0", "yyyy-mm-dd", "@"]
    assert csv_rows(sheet)[1:] == [
        ["mill-h1", "-5.25", "40", "2026-03-02", "10.44.1.11"],
        ["", "", "", "", ""],
    ]


@pytest.mark.parametrize(
    ("value", "in_csv"),
    [
        (-5, "-5"),
        (-0.5, "-0.5"),
        (7.0, "7"),
        ("-5", "-5"),
        ("-12.75", "-12.75"),
        (float("nan"), ""),
        (0, "0"),
        ("=1+1", "'=1+1"),
        ("+43 1 555 01", "'+43 1 555 01"),
        ("-1+1", "'-1+1"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("  =1+1", "'  =1+1"),
        ('"=1+1"', '\'"=1+1"'),
        ("\t=1+1", "' =1+1"),
        ("\r=1+1", "' =1+1"),
        ("＝1+1", "'＝1+1"),
        ("'=1+1", "''=1+1"),
        ("a;=1+1", "a;'=1+1"),
        ("desks; =1+1", "desks; '=1+1"),
        ("core-1", "core-1"),
        ("a=b", "a=b"),
        ("10.44.1.0/24", "10.44.1.0/24"),
        ("", ""),
        ("-", "'-"),
        ("a\x00b\x0bc\ud800d\uffffe", "abcde"),
        ("two\r\nlines", "two lines"),
    ],
)
def test_csv_cells_cannot_be_run(value, in_csv):
    # Source: OWASP, CSV Injection: = + - @ tab and carriage return, separators and quotes
    assert csv_rows(one(value))[1] == [in_csv]


def test_csv_is_what_spreadsheets_expect():
    data = sheets.write_csv(one("Łódź", 'say "hello", twice'))
    assert data.startswith(b"\xef\xbb\xbf")  # else some take it for another character set
    # Source: RFC 4180 section 2: lines end with CRLF, quotes are doubled
    assert data.decode("utf-8-sig") == '"Value"\r\n"Łódź"\r\n"say ""hello"", twice"\r\n'


@settings(max_examples=300, deadline=None)
@given(TEXTS)
def test_no_text_is_run_from_csv(text):
    [cell] = csv_rows(one(text))[1] or [""]
    bare = cell.lstrip(' \u00a0"\u200b')
    assert bare[:1] not in tuple("=+@＝＋＠\t\r")
    assert not bare.startswith("-") or re.fullmatch(r"-[0-9]+([.,][0-9]+)?", cell)
    for part in cell.split(";")[1:]:  # as a spreadsheet would split it where ; separates
        assert part.lstrip(" \u00a0\"'")[:1] not in tuple("=+@-") or part.lstrip(
            ' \u00a0"'
        ).startswith("'")


@settings(max_examples=200, deadline=None)
@given(st.lists(TEXTS, min_size=1, max_size=8))
def test_texts_come_back_from_xlsx_as_they_were(texts):
    tab = reopened([one(*texts)]).worksheets[0]
    for text, [cell] in zip(texts, list(tab.iter_rows(min_row=2)), strict=False):
        assert cell.value is None or cell.data_type == "s"
        assert (cell.value or "").replace("_x005F_", "_") == defuse.clean(text)


@pytest.mark.parametrize(
    "text", ["=1+1", "#N/A", "#REF!", "{=1}", "TRUE", "1e5", "2026-03-02", "  =A1", "_x0041_"]
)
def test_xlsx_texts_are_strings_and_nothing_else(text):
    cell = reopened([one(text)]).worksheets[0]["A2"]
    assert (cell.data_type, cell.number_format) == ("s", "@")
    assert cell.value == text.replace(
        "_x", "_x005F_x"
    )  # Source: ECMA-376-1, 22.9.2.19: _xHHHH_ escapes a character
    assert "<f>" not in raw([one(text)], "xl/worksheets/sheet1.xml")


def test_long_and_illegal_texts_are_cut_to_what_a_cell_holds():
    cell = reopened([one("a" * 40_000)]).worksheets[0]["A2"]
    assert len(cell.value) == 32_000
    assert cell.value.endswith("…")


def test_sheets_are_ready_to_filter_and_to_print():
    sheet = one("a", "b")
    tab = reopened([sheet]).worksheets[0]
    assert tab.freeze_panes == "A2"
    assert tab.auto_filter.ref == "A1:A3"
    assert tab.print_title_rows == "$1:$1"
    assert tab.page_setup.orientation == "landscape"
    assert (tab.page_setup.fitToWidth, tab.page_setup.fitToHeight) == (1, 0)
    assert tab.sheet_properties.pageSetUpPr.fitToPage
    assert tab.page_setup.paperSize == 9  # Source: ECMA-376-1, 18.3.1.63: 9 is A4, 1 is Letter
    letter = reopened([sheet], sheets.Imprint("", "", "x", "", "Letter")).worksheets[0]
    assert letter.page_setup.paperSize == 1
    assert tab.column_dimensions["A"].width == 14
    assert tab["A1"].font.bold


def test_every_page_says_whose_plan_and_which_state():
    xml = raw([one("a")], "xl/worksheets/sheet1.xml")
    assert "<oddHeader>&amp;LLarkfield Vets, Mill Street&amp;ROne sheet</oddHeader>" in xml
    assert (
        "<oddFooter>&amp;Lrevision B, fingerprint 7KQ2-M9XD&amp;Rpage &amp;P of &amp;N</oddFooter>"
        in xml
    )
    draft = sheets.imprint(plan_of())
    assert draft.state.startswith("not a revision, fingerprint ")
    properties = reopened([one("a")]).properties
    assert (properties.title, properties.subject) == ("One sheet", "Larkfield Vets, Mill Street")
    assert properties.creator == "Deskwright"


def test_an_ampersand_in_a_name_is_not_a_code():
    # Source: ECMA-376-1, 18.3.1.46 (header and footer codes): && is an ampersand
    imprint = sheets.Imprint("Rook & Dove &D", "", "x")
    assert "&amp;LRook &amp;&amp; Dove &amp;&amp;D&amp;R" in raw(
        [one("a")], "xl/worksheets/sheet1.xml", imprint
    )
    long = raw(
        [one("a")], "xl/worksheets/sheet1.xml", sheets.Imprint("&" * 500, "\x00\n" * 50, "x")
    )
    header = re.search("<oddHeader>(.*?)</oddHeader>", long)[1].replace("&amp;", "&")
    assert len(header) <= 255  # Source: the same: a header holds 255 characters
    assert header.count("&&") == 55


def test_tabs_have_names_that_are_allowed():
    odd = [
        sheets.Sheet(name, "t")
        for name in ("a/b:c*?[x]", "a/b:c*?[x]", "", "'quoted'", "n" * 60, "N" * 60)
    ]
    names = reopened(odd).sheetnames
    assert len({name.casefold() for name in names}) == len(odd)
    assert all(
        0 < len(name) <= 31 and not set(name) & set("[]:*?/\\") and name.strip("'") == name
        for name in names
    )
    assert reopened([]).sheetnames == ["Empty"]


def test_days_that_spreadsheets_disagree_about_are_written_out():
    # Source: ECMA-376-1, 18.17.4.1: the 1900 date base counts a day that never was, 29 February 1900
    tab = reopened([one(dt.date(1899, 12, 31), dt.date(1900, 3, 1), kind="date")]).worksheets[0]
    assert tab["A2"].value == "1899-12-31"
    assert tab["A3"].value == dt.datetime(1900, 3, 1)


def test_numbers_too_long_for_a_spreadsheet_stay_whole():
    tab = reopened([one(12345678901234567, kind="integer")]).worksheets[0]
    assert tab["A2"].value == "12345678901234567"
