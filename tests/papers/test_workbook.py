"""The workbook of all sheets, and sheets read back from bytes: what is read, and what is refused before it hurts."""

from __future__ import annotations

import csv
import dataclasses
import datetime as dt
import io
import os
import struct
import time
import zipfile
import zlib

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.papers import defuse
from planner.papers.sheets import files as sheets
from planner.papers.sheets.keys import FILLED, HEADING, RowKey, read_key
from planner.papers.sheets.reading import read_table
from planner.papers.sheets.table import LIMITS, Unreadable
from planner.plan import Plan
from planner.record import facts as f
from tests.bounded import bounded
from tests.engine.test_flows import LISTED, any_record
from tests.factories import plan_of, site_facts
from tests.papers.demo_facts import demo
from tests.papers.test_sheets import TEXTS

MOST_SECONDS = 8.0  # a refusal takes a tenth of it; a busy machine is no failure
MOST_MEBIBYTES = 32
WANTED = ("Address", "Name", HEADING)
OTHER_PROGRAM = [
    ["Address", "Name", "Key", "Note"],
    ["10.44.1.11", "Zürich, 2. Stock", "", "größer; „schön“"],
]


def workbook(plan: Plan) -> openpyxl.Workbook:
    imprint = sheets.imprint(plan, "B")
    return openpyxl.load_workbook(
        io.BytesIO(sheets.write_xlsx(sheets.workbook_sheets(plan, imprint), imprint))
    )


# -- the workbook ------------------------------------------------------------------------------------


def test_every_sheet_has_its_tab():
    book = workbook(Plan(demo("mill")))
    assert book.sheetnames == [
        "About",
        "Allocation",
        "Ports",
        "Hosts",
        "Datastores",
        "Templates",
        "Seats",
        "Checks",
    ]
    about = {row[0].value: row[1].value for row in book["About"].iter_rows(min_row=2)}
    plan = Plan(demo("mill"))
    assert (about["Revision"], about["Fingerprint"], about["Site"]) == (
        "B",
        plan.fingerprint,
        plan.facts.site.name,
    )
    assert about["Tab Hosts"].endswith("(2 rows)") and "read back" in about["To fill in"]


def test_values_keep_their_type_and_unit():
    facts = site_facts(
        f.Network(id=1, name="core"),
        f.Host(
            id=1,
            name="mill-h1",
            network_id=1,
            memory_gib=96.5,
            sockets=2,
            address="10.44.1.11",
            note="=1+1",
        ),
        f.Template(id=1, name="front desk", most=1500, passes=("clipboard", "usb")),
        f.SeatGroup(
            id=1,
            name="Reception",
            template_id=1,
            share_at_once=0.7,
            arrive_around=dt.time(7, 45),
            arrive_spread_minutes=15,
        ),
    )
    book = workbook(Plan(facts))

    def cells(tab):
        return {head.value: cell for head, cell in zip(book[tab][1], book[tab][2], strict=True)}

    host = cells("Hosts")
    looks = [
        (host[at].value, host[at].data_type, host[at].number_format)
        for at in ("Memory, GiB", "Sockets")
    ]
    assert looks == [(96.5, "n", "#,##0.0##"), (2, "n", "0")]
    assert (host["Network"].value, host["Address"].value, host["Address"].data_type) == (
        "core",
        "10.44.1.11",
        "s",
    )
    assert (host["Note"].value, host["Note"].data_type) == ("=1+1", "s")
    assert (
        cells("Templates")["Most"].value,
        cells("Templates")["May pass to the person's device"].value,
    ) == (
        1500,
        "clipboard, USB",
    )
    seat = cells("Seats")
    assert (
        seat["Share at once, %"].value,
        seat["Arrive around"].value,
        seat["Spread, min"].value,
    ) == (70, "07:45", 15)


def test_checks_bear_their_answers():
    at = dt.datetime(2026, 3, 1, 9, 30, tzinfo=dt.UTC)
    facts = dataclasses.replace(demo("mill"), answers=())
    key = next(iter(Plan(facts).stages.checks))
    answer = f.Answer(check=key, state="trust", by="R. Doe", at=at, proof="said on the telephone")
    gone = f.Answer(check="host-reachable@host-999", state="proven", by="R. Doe", at=at)
    plan = Plan(dataclasses.replace(facts, answers=(answer, gone)))
    rows = [
        dict(zip((c.title for c in sheets.check_sheet(plan).columns), row, strict=True))
        for row in sheets.check_sheet(plan).rows
    ]
    found = {row["What must be true"]: row for row in rows}[plan.stages.checks[key].title]
    assert (found["Answer"], found["By"], found["On"], found["Proof or reason"]) == (
        "on trust",
        "R. Doe",
        dt.date(2026, 3, 1),
        "said on the telephone",
    )
    assert len(rows) == len(plan.stages.checks) + len(plan.stages.gone)
    assert [row["Stage"] for row in rows if row["Answer"] == "proven"] == ["no longer applies"]


def test_tabs_are_ready_to_filter_and_to_print():
    book = workbook(Plan(demo("mill")))
    for tab in book.worksheets:
        last = openpyxl.utils.get_column_letter(tab.max_column)
        assert (tab.freeze_panes, tab.print_title_rows) == ("A2", "$1:$1")
        assert tab.auto_filter.ref == f"A1:{last}{tab.max_row}"
        assert tab.oddFooter.left.text.startswith("revision B, fingerprint ")
        assert all(cell.font.bold for cell in tab[1])
    allocation, hosts = book["Allocation"], book["Hosts"]
    assert (
        allocation.print_area == f"'Allocation'!$A$1:$L${allocation.max_row}"
    )  # the keys stand beyond it
    assert allocation.cell(1, allocation.max_column).value == HEADING == "Key"
    assert (
        hosts.print_area
        == f"'Hosts'!$A$1:${openpyxl.utils.get_column_letter(hosts.max_column)}${hosts.max_row}"
    )


@settings(max_examples=15, deadline=None)
@given(st.lists(st.one_of(*map(any_record, LISTED)), max_size=8), any_record(f.Service), TEXTS)
def test_any_facts_give_a_workbook_in_which_nothing_is_run(records, service, text):
    plan = Plan(site_facts(*records, service, f.Device(id=77, name=text, what=text, note=text)))
    for tab in workbook(plan).worksheets:
        assert not [cell for row in tab.iter_rows() for cell in row if cell.data_type in "fe"]


# -- keys --------------------------------------------------------------------------------------------


def test_every_row_of_an_allocation_sheet_can_be_told_apart():
    plan = Plan(demo("large"))
    sheet = sheets.allocation_sheet(plan, {"host-1": 7})
    keys = [read_key(row[-1]) for row in sheet.rows]
    assert len({key.row for key in keys}) == len(keys) > 200
    assert all(
        (key.kind, key.part) in FILLED
        and plan.facts.find(f.Ref(key.kind, int(key.anchor.partition("-")[2])))
        for key in keys
    )
    assert {key.fingerprint for key in keys} == {plan.fingerprint}


@given(
    st.builds(
        RowKey,
        st.from_regex(r"\A[a-z0-9-]{1,40}\Z"),
        st.from_regex(r"\A[a-z0-9-]{1,40}\Z"),
        st.just("7KQ2-M9XD"),
        st.builds("{}-{}".format, st.sampled_from(["host", "device"]), st.integers(0, 10**17)),
        st.sampled_from(["address", "cidr"]),
        st.none() | st.integers(1, 10**9),
    )
)
def test_keys_come_back(key):
    assert read_key(f" {key} ") == key


@pytest.mark.parametrize(
    "text",
    ["", "host-12", "a/b/7KQ2-M9XD/host-x/address", "a/b/7KQ2-M9XD/host-12", "=1/2", "a" * 9999],
)
def test_what_is_no_key(text):
    with pytest.raises(ValueError, match="is not a key"):
        read_key(text)


# -- reading back ------------------------------------------------------------------------------------


def csv_of(rows: list, sign=",", encoding="utf-8", end="\n") -> bytes:
    file = io.StringIO(newline="")
    csv.writer(file, delimiter=sign, lineterminator=end).writerows(rows)
    return file.getvalue().encode(encoding)


def xlsx_of(rows: list, before: int = 0, **more: bytes) -> bytes:
    """A small XLSX file, with parts put in the place of its own."""
    book = openpyxl.Workbook()
    for _ in range(before):
        book.create_sheet("before", 0)
    for row in rows:
        book.worksheets[-1].append(row)
    file = io.BytesIO()
    book.save(file)
    return with_parts(file.getvalue(), more) if more else file.getvalue()


def with_parts(data: bytes, parts: dict, method: int = zipfile.ZIP_DEFLATED) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(file, "w", method) as new:
        for name in old.namelist():
            new.writestr(
                name,
                parts[name](old.read(name))
                if callable(parts.get(name))
                else parts.get(name, old.read(name)),
            )
        for name in set(parts) - set(old.namelist()):
            new.writestr(name, parts[name])
    return file.getvalue()


@settings(max_examples=25, deadline=None)
@given(st.lists(st.one_of(*map(any_record, LISTED)), max_size=8), any_record(f.Service))
def test_a_sheet_reads_as_it_was_written(records, service):
    plan = Plan(site_facts(*records, service))
    sheet = sheets.allocation_sheet(plan)
    wanted = [
        [defuse.clean("" if value is None else value).strip() for value in row]
        for row in sheet.rows
    ]
    for data in (sheets.write_csv(sheet), sheets.write_xlsx([sheet], sheets.imprint(plan))):
        table = read_table(data, WANTED)
        assert table.headings == tuple(column.title for column in sheet.columns)
        assert [list(row) for row in table.rows] == wanted


def test_a_text_that_looks_like_an_escaped_letter_comes_back():
    plan = plan_of(f.Device(id=1, name="_x0041_ and _x005F_", address="10.44.1.9"))
    data = sheets.write_xlsx([sheets.allocation_sheet(plan)], sheets.imprint(plan))
    assert [row[7] for row in read_table(data, WANTED).rows] == ["_x0041_ and _x005F_"]


@given(TEXTS)
def test_a_defused_text_comes_back(text):
    assert defuse.from_csv(defuse.for_csv(text)) == defuse.clean(text)


@pytest.mark.parametrize("sign", list(",;\t|"))
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "windows-1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_csv_of_other_programs(sign, encoding, end):
    table = read_table(csv_of([["A title"], [], *OTHER_PROGRAM], sign, encoding, end), WANTED)
    assert (table.kind, table.headings, table.rows) == (
        "CSV",
        tuple(OTHER_PROGRAM[0]),
        (tuple(OTHER_PROGRAM[1]),),
    )
    assert bool(table.notes) == (encoding == "windows-1252")  # whoever guesses says so


def test_xlsx_of_other_programs():
    rows = [
        ["Filled in by the network's owner"],
        [None],
        ["Name", "Key", "Address", "VLAN", "Day"],
        ["printer", None, "10.44.1.60", 40.0, dt.datetime(2026, 3, 2)],
        [None],
        [True, None, 7.25, None, None, "mine"],
    ]
    table = read_table(xlsx_of(rows, before=2), WANTED)
    assert table.rows == (
        ("printer", "", "10.44.1.60", "40", "2026-03-02"),
        ("yes", "", "7.25", "", ""),
    )
    assert table.numbers == (4, 6) and "row 6 is the first" in table.notes[0]
    book = openpyxl.load_workbook(io.BytesIO(xlsx_of(rows)))
    book.active["A4"] = "=1+1"  # a formula that nobody has worked out holds nothing
    file = io.BytesIO()
    book.save(file)
    assert read_table(file.getvalue(), WANTED).rows[0][0] == ""


# -- what is refused ---------------------------------------------------------------------------------

M = b'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
SHEET = "xl/worksheets/sheet1.xml"
GOOD = [["Address", "Name", "Key"], ["10.44.1.9", "x", None]]


def entities(data: bytes) -> bytes:
    """A short part that unfolds to 10**9 letters. Source: MITRE, CWE-776 (XML entity expansion)."""
    names = [
        b'<!ENTITY a0 "lol">',
        *(b'<!ENTITY a%d "%s">' % (n, b"&a%d;" % (n - 1) * 10) for n in range(1, 10)),
    ]
    return (
        b'<?xml version="1.0"?><!DOCTYPE x ['
        + b"".join(names)
        + b"]><worksheet "
        + M
        + b">&a9;</worksheet>"
    )


def quadratic(data: bytes) -> bytes:
    head = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "' + b"a" * 50_000 + b'">]>'
    return head + b"<worksheet " + M + b">" + b"&a;" * 50_000 + b"</worksheet>"


def in_utf_16(data: bytes) -> bytes:
    return entities(data).decode().replace('<?xml version="1.0"?>', "").encode("utf-16")


def from_outside(data: bytes) -> bytes:
    return b'<?xml version="1.0"?><!DOCTYPE x SYSTEM "file:///etc/passwd"><worksheet ' + M + b"/>"


def sheet_data(inner: bytes) -> bytes:
    return (
        b'<?xml version="1.0"?><worksheet '
        + M
        + b"><sheetData>"
        + inner
        + b"</sheetData></worksheet>"
    )


def lying(data: bytes) -> bytes:
    """A part whose directory says it unpacks to 1,000 bytes, and which unpacks to 60 MiB."""
    whole = xlsx_of(GOOD, **{SHEET: sheet_data(b" " * (60 * 2**20))})
    with zipfile.ZipFile(io.BytesIO(whole)) as archive:
        size = archive.getinfo(SHEET).file_size
    return whole.replace(struct.pack("<L", size), struct.pack("<L", 1000))


def nested_archives(_: bytes) -> bytes:
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a", bytes(30 * 2**20))
    return xlsx_of(GOOD, **{f"xl/media/{n}.zip": inner.getvalue() for n in range(40)})


def overlapping(_: bytes) -> bytes:
    """Many directory entries for one and the same packed 20 MiB. Source: D. Fifield, A better zip bomb (USENIX
    WOOT 2019): entries that overlap."""
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    raw = bytes(20 * 2**20)
    packed = packer.compress(raw) + packer.flush()
    crc = zlib.crc32(raw)
    local = (
        struct.pack("<4s5H3L2H", b"PK\3\4", 20, 0, 8, 0, 33, crc, len(packed), len(raw), 1, 0)
        + b"a"
        + packed
    )
    entries = b"".join(
        struct.pack(
            "<4s6H3L5H2L",
            b"PK\1\2",
            20,
            20,
            0,
            8,
            0,
            33,
            crc,
            len(packed),
            len(raw),
            4,
            0,
            0,
            0,
            0,
            0,
            0,
        )
        + b"%04d" % n
        for n in range(400)
    )
    return (
        local
        + entries
        + struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, 400, 400, len(entries), len(local), 0)
    )


STYLES = b"<styleSheet " + M + b"><cellXfs>" + b"<xf/>" * 100_000 + b"</cellXfs></styleSheet>"
REFUSED = {
    "nothing": (b"", "empty"),
    "blank": (b" \r\n\t " * 100, "empty"),
    "PDF": (b"%PDF-1.7\n%\xe2\xe3" + bytes(100), "This is a PDF"),
    "picture called XLSX": (b"\x89PNG\r\n\x1a\n" + bytes(100), "This is a picture"),
    "old binary kind": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "old binary kind"),
    "program": (b"\x7fELF\x02\x01" + bytes(range(256)) * 9, "neither an XLSX file nor text"),
    "UTF-32": ("Address,Name,Key\n".encode("utf-32"), "UTF-32"),
    "UTF-16 without its mark": (
        "Address,Name,Key\n".encode("utf-16-le"),
        "neither an XLSX file nor text",
    ),
    "no character set": (b"Address,Name,Key\n\x81\x8d\x8f\x90\x9d,x,y\n", "letters cannot be told"),
    "prose": (b"Dear colleague,\nplease find the sheet attached.\n", "No row has the headings"),
    "another table": (csv_of([["Host", "IP"], ["a", "10.0.0.1"]]), "No row has the headings"),
    "quote that never ends": (
        b'Address,Name,Key\n10.0.0.1,"x,\n' + b"y,z\n" * 200_000,
        "cannot be read as CSV",
    ),
    "one endless cell": (b"Address,Name,Key\n" + b"x" * 3_000_000, "cannot be read as CSV"),
    "too many rows": (
        csv_of([["Address", "Name", "Key"]] + [["10.0.0.1", "x", ""]] * 5_001),
        "more than 5000 rows",
    ),
    "too many bytes": (b"a," * (LIMITS.file_bytes // 2) + b"b", "larger than 4 MiB"),
    "half a file": (xlsx_of(GOOD)[:2500], "damaged"),
    "a bent byte": (xlsx_of(GOOD)[:1200] + b"\xff\xff\xff\xff" + xlsx_of(GOOD)[1204:], "damaged"),
    "another archive": (
        xlsx_of(GOOD).replace(b"[Content_Types].xml", b"[Content_Bytes].xml"),
        "no XLSX file",
    ),
    "no workbook in it": (xlsx_of(GOOD, **{"xl/workbook.xml": b"<workbook/>"}), "damaged|No row"),
    "no XML in it": (xlsx_of(GOOD, **{SHEET: b"hello"}), "damaged|No row"),
    "half XML": (xlsx_of(GOOD, **{SHEET: b'<?xml version="1.0"?><worksheet '}), "damaged"),
    "entities": (xlsx_of(GOOD, **{SHEET: entities(b"")}), "declares a document type"),
    "entities in UTF-16": (xlsx_of(GOOD, **{SHEET: in_utf_16(b"")}), "declares a document type"),
    "entities where no sheet is": (
        xlsx_of(GOOD, **{"xl/whatever.bin": entities(b"")}),
        "declares a document type",
    ),
    "quadratic entities": (xlsx_of(GOOD, **{SHEET: quadratic(b"")}), "declares a document type"),
    "entity from outside": (
        xlsx_of(GOOD, **{SHEET: from_outside(b"")}),
        "declares a document type",
    ),
    "deep XML": (xlsx_of(GOOD, **{SHEET: sheet_data(b"<c>" * 100_000)}), "unpacks to far more"),
    "one endless tag": (
        xlsx_of(GOOD, **{SHEET: sheet_data(b'<c a="' + b"x" * 700_000 + b'"/>')}),
        "damaged",
    ),
    "a million cells": (
        xlsx_of(GOOD, **{SHEET: sheet_data(b"<row>" + b"<c/>" * 1_000_000 + b"</row>")}),
        "far more",
    ),
    "a hundred thousand styles": (xlsx_of(GOOD, **{"xl/styles.xml": STYLES}), "far more"),
    "blown up a thousandfold": (
        xlsx_of(GOOD, **{SHEET: sheet_data(b" " * (20 * 2**20))}),
        "far more",
    ),
    "blown up beyond all": (
        xlsx_of(GOOD, **{f"xl/a{n}": os.urandom(2**20) * 9 for n in range(4)}),
        "far more|larger",
    ),
    "a lying directory": (lying(b""), "far more|damaged"),
    "archives in it": (
        nested_archives(b""),
        None,
    ),  # nobody unpacks them: the sheet beside them is read
    "overlapping entries": (overlapping(b""), "far more"),
    "many parts": (xlsx_of(GOOD, **{f"xl/a{n}": b"" for n in range(600)}), "more than 500 parts"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_bad_input_is_refused_in_bounded_time_and_memory(name):
    data, why = REFUSED[name]
    with bounded(mebibytes=MOST_MEBIBYTES, seconds=MOST_SECONDS):
        if why is None:
            assert read_table(data, WANTED).rows[0][:2] == ("10.44.1.9", "x")
        else:
            with pytest.raises(Unreadable, match=why):
                read_table(data, WANTED)


def test_many_tabs_of_one_part_are_not_read_again_and_again():
    rows = sheet_data(b"<row/>" * 100_000)
    tab = b'<sheet name="t%d" sheetId="%d" r:id="rId1" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"/>'
    tabs = b"".join(tab % (n, n + 9) for n in range(50))
    data = xlsx_of(
        GOOD,
        **{SHEET: rows, "xl/workbook.xml": lambda d: d.replace(b"</sheets>", tabs + b"</sheets>")},
    )
    with pytest.raises(Unreadable, match="far more"):
        read_table(data, WANTED)


@pytest.mark.parametrize("number", [b"1048576", b"99999999999", b"0", b"-5"])
def test_rows_far_below_cost_nothing(number):
    """A row at the very end of a sheet: the rows above it that are not there are not made."""
    cell = b'<c t="inlineStr"><is><t>%s</t></is></c>'
    head = b"<row>" + b"".join(cell % name for name in (b"Address", b"Name", b"Key")) + b"</row>"
    data = xlsx_of(
        GOOD, **{SHEET: sheet_data(head + b'<row r="' + number + b'"><c><v>1</v></c></row>')}
    )
    began = time.process_time()
    try:
        assert len(read_table(data, WANTED).rows) <= 1
    except Unreadable as error:
        assert "damaged" in str(error) or "No row" in str(error)
    assert time.process_time() - began < MOST_SECONDS


@settings(max_examples=150, deadline=None)
@given(
    st.binary(max_size=300),
    st.sampled_from([b"", b"PK\3\4", b"\xef\xbb\xbf", b"\xff\xfe", b"Address,Name,Key\n"]),
)
def test_any_bytes_are_a_table_or_refused(data, start):
    try:
        read_table(start + data, WANTED)
    except Unreadable as error:
        assert str(error).endswith(".")


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 8000), st.integers(0, 255)), min_size=1, max_size=8))
def test_an_xlsx_file_with_bent_bytes_is_a_table_or_refused(bends):
    data = bytearray(xlsx_of(GOOD))
    for at, byte in bends:
        data[at % len(data)] = byte
    try:
        read_table(bytes(data), WANTED)
    except Unreadable as error:
        assert str(error).endswith(".")


def test_an_empty_site_has_a_workbook_too():
    assert workbook(plan_of())["Hosts"].max_row == 1
