"""A filled-in allocation sheet comes back: what its rows would change, what a person must choose, what is written."""

import csv
import datetime as dt
import io
import random
import re

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from sites.actions.papers import freeze
from sites.actions.records import add_record, change_record, make_site, remove_record
from sites.loading import read_site
from sites.models import Appliance, Device, Host, Network, Server, Service

HERE = "/at/larkfield/mill/"
URL = HERE + "read-back"


@pytest.fixture
def net(site, staff):
    """A small site: two hosts, one without an address, a printer, a server; the sheet has a row of each."""

    def add(kind, **values):
        return add_record(by=staff, site=site, kind=kind, values=values)

    core = add("network", name="core", cidr="10.44.1.0/24", vlan=10, gateway="10.44.1.1")
    add(
        "network",
        name="desks",
        cidr="10.44.2.0/24",
        dhcp="range",
        dhcp_first="10.44.2.50",
        dhcp_last="10.44.2.99",
    )
    add(
        "host",
        name="mill-h1",
        network_id=core.pk,
        address="10.44.1.11",
        memory_gib=96.5,
        note="top of the rack",
    )
    add("host", name="mill-h2", network_id=core.pk)
    add("server", name="dc-1", network_id=core.pk, address="10.44.1.5", roles=["dns"])
    add(
        "device",
        name="printer-1",
        what="printer",
        network_id=core.pk,
        address="10.44.1.60",
        holding="fixed",
    )
    return site


class Sheet:
    """The downloaded sheet, to be filled in as a person would."""

    def __init__(self, client, ending="xlsx", query=""):
        data = client.get(f"{HERE}print/allocation-sheet.{ending}{query}").content
        self.ending = ending
        if ending == "csv":
            self.lines = list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline="")))
        else:
            self.book = openpyxl.load_workbook(io.BytesIO(data))
            tab = self.book.worksheets[0]
            self.lines = [
                ["" if cell.value is None else cell.value for cell in row]
                for row in tab.iter_rows()
            ]
        self.headings, *self.rows = self.lines

    def at(self, heading):
        return self.headings.index(heading)

    def row(self, key_part):
        [row] = [row for row in self.rows if key_part in str(row[self.at("Key")])]
        return row

    def fill(self, key_part, **values):
        row = self.row(key_part)
        for heading, value in values.items():
            row[self.at(heading.replace("_", " "))] = value
        return self

    def new(self, **values):
        self.rows.append([values.get(heading.replace(" ", "_"), "") for heading in self.headings])
        return self

    @property
    def content(self):
        if self.ending == "csv":
            file = io.StringIO(newline="")
            csv.writer(file).writerows([self.headings, *self.rows])
            return file.getvalue().encode()
        book = openpyxl.Workbook()
        for line in (self.headings, *self.rows):
            book.active.append([None if value == "" else value for value in line])
        file = io.BytesIO()
        book.save(file)
        return file.getvalue()


def upload(client, content, name="filled in.xlsx"):
    return client.post(URL, {"file": SimpleUploadedFile(name, content)})


def confirm(client, page, **choices):
    text = page.content.decode()
    hidden = {
        name: re.search(f'name="{name}" value="([^"]*)"', text)[1] for name in ("parcel", "digest")
    }
    return client.post(URL, hidden | choices)


def seen(page):
    """The rows of a preview by whose they are: what they will be, and the words beside it."""
    found = {}
    for row in page.context["seen"].rows:
        changes = [(one.field.label, one.here, one.there) for one in row.changes]
        found[row.whose] = (
            row.does,
            changes,
            [one.clash for one in row.changes if one.clash] or row.why,
        )
    return found


@pytest.fixture
def editor(people, enter, net):
    return enter(people["editor"])


@pytest.mark.parametrize("ending", ["xlsx", "csv"])
def test_what_comes_back_as_it_left_changes_nothing(editor, ending):
    page = upload(editor, Sheet(editor, ending).content, f"x.{ending}")
    assert page.status_code == 200 and {row.does for row in page.context["seen"].rows} == {
        "unchanged"
    }
    assert b"Nothing would change" in page.content
    data = editor.get(f"{HERE}print/allocation-sheet.{ending}").content  # the very file, too
    assert {row.does for row in upload(editor, data).context["seen"].rows} == {"unchanged"}


@pytest.mark.parametrize("ending", ["xlsx", "csv"])
def test_filled_in_rows_are_shown_then_written(editor, net, people, ending):
    h2, printer = Host.objects.get(name="mill-h2"), Device.objects.get()
    sheet = Sheet(editor, ending)
    sheet.fill(f"host-{h2.pk}/", Address="10.44.1.12", MAC="00-00-5E-00-53-02")
    sheet.fill(
        f"device-{printer.pk}/",
        Name="printer-front",
        Held="reserved",
        Network="desks",
        Address="10.44.2.7",
    )
    sheet.fill("/dhcp/", Address="10.44.2.100", Last_address="10.44.2.199", Name="dc-1")
    sheet.new(
        Name="camera-1",
        Address="10.44.1.70",
        Network="core",
        What_it_is="camera, yard",
        Held="fixed",
    )
    random.Random(4).shuffle(sheet.rows)  # sorting does no harm: the keys stand in the rows
    page = upload(editor, sheet.content)
    assert seen(page)["mill-h2"] == (
        "changed",
        [("Management address", "nothing", "10.44.1.12"), ("MAC", "nothing", "00:00:5e:00:53:02")],
        "",
    )
    assert page.context["seen"].count("added") == 1 and page.context["seen"].count("changed") == 3
    assert Device.objects.count() == 1 and not Host.objects.get(pk=h2.pk).address  # nothing yet
    answer = confirm(editor, page)
    assert answer.status_code == 302 and answer["Location"].endswith("/addresses/")
    h2.refresh_from_db(), printer.refresh_from_db()
    assert (h2.address, h2.mac, h2.edits, h2.changed_by) == (
        "10.44.1.12",
        "00:00:5e:00:53:02",
        2,
        people["editor"],
    )
    assert (
        printer.name,
        printer.holding,
        printer.network.name,
        printer.address,
        printer.edits,
    ) == (
        "printer-front",
        "reserved",
        "desks",
        "10.44.2.7",
        2,
    )
    desks, camera = Network.objects.get(name="desks"), Device.objects.get(name="camera-1")
    assert (desks.dhcp_first, desks.dhcp_last, desks.dhcp_server) == (
        "10.44.2.100",
        "10.44.2.199",
        "dc-1",
    )
    assert (camera.address, camera.what, camera.network.name, camera.holding) == (
        "10.44.1.70",
        "camera, yard",
        "core",
        "fixed",
    )
    assert Host.objects.get(name="mill-h1").memory_gib == 96.5  # what no cell speaks of stays


def test_who_has_no_address_yet_has_a_row(editor, net, staff):
    change = {"name": "Mill desktops", "entry_name": "desk.larkfield.example"}
    service = Service.objects.get(site=net)
    change_record(by=staff, kind="service", pk=service.pk, opened_at=service.edits, values=change)
    broker = add_record(by=staff, site=net, kind="appliance", values={"name": "broker-1"})
    sheet = Sheet(editor)
    sheet.fill(
        f"service-{service.pk}/address", Address="10.44.1.30", Held="reserved at the DHCP server"
    )
    sheet.fill(f"appliance-{broker.pk}/address", Address="10.44.1.31", Network="core")
    sheet.fill(f"network-{Network.objects.get(name='desks').pk}/gateway", Address="10.44.2.1")
    assert confirm(editor, upload(editor, sheet.content)).status_code == 302
    service.refresh_from_db()
    assert (service.address, service.address_origin) == ("10.44.1.30", "reserved")
    assert Appliance.objects.get().network.name == "core"
    assert Network.objects.get(name="desks").gateway == "10.44.2.1"


def test_an_empty_cell_leaves_and_the_word_nothing_empties(editor, net):
    h1, dc = Host.objects.get(name="mill-h1"), net
    sheet = (
        Sheet(editor).fill(f"host-{h1.pk}/", Address="", Name="").fill("server-", Address="Nothing")
    )
    page = upload(editor, sheet.content)
    assert (
        seen(page)["mill-h1"][0] == "unchanged"
        and b"Address is empty, so it stays 10.44.1.11" in page.content
    )
    confirm(editor, page)
    h1.refresh_from_db()
    assert (h1.name, h1.address) == ("mill-h1", "10.44.1.11")
    assert read_site(dc).servers[0].address == ""


def test_columns_that_follow_from_others_are_said_not_to_be_read(editor):
    sheet = Sheet(editor)
    sheet.headings.append("Remarks of the owner")
    sheet.rows[0].append("done on Friday")
    page = upload(editor, sheet.fill("server-", Subnet="10.44.1.0/25").content)
    assert b"Subnet is not read from this row" in page.content
    assert b"Not read, because no allocation sheet has them: Remarks of the owner" in page.content


# -- refusals ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("values", "why"),
    [
        ({"Address": "10.44.1.300"}, "Give an IPv4 address"),
        ({"MAC": "00:00:5e"}, "Give a MAC address"),
        ({"Network": "swimming pool"}, "is not one network of this site"),
        ({"Name": "password: hunter2"}, "looks like a password"),
        ({"Name": "n" * 201}, "at most 200"),
    ],
)
def test_a_cell_that_can_never_be_true_refuses_its_row_alone(editor, net, values, why):
    h1, h2 = Host.objects.order_by("pk")
    sheet = (
        Sheet(editor).fill(f"host-{h1.pk}/", **values).fill(f"host-{h2.pk}/", Address="10.44.1.12")
    )
    page = upload(editor, sheet.content)
    assert seen(page)["mill-h1"][0] == "refused" and why in seen(page)["mill-h1"][2]
    confirm(editor, page)
    after = Host.objects.order_by("pk")
    assert (after[0].address, after[0].name, after[0].edits) == ("10.44.1.11", "mill-h1", 1)
    assert after[1].address == "10.44.1.12"


def test_damaged_and_copied_keys_are_refused(editor):
    sheet = Sheet(editor)
    copy = list(sheet.row("device-"))
    copy[sheet.at("Name")], copy[sheet.at("Address")] = "printer-2", "10.44.1.61"
    sheet.rows.append(copy)
    row = sheet.row("server-")
    row[sheet.at("Key")] = "larkfield/mill/server-1"
    page = upload(editor, sheet.content)
    why = {row.whose: row.why for row in page.context["seen"].rows if row.does == "refused"}
    assert "Its key is damaged" in why["dc-1"]
    assert "Another row bears the same key" in why["printer-1"]
    assert [row.does for row in page.context["seen"].rows if row.whose == "printer-1"] == [
        "unchanged",
        "refused",
    ]


def test_keys_and_rows_sorted_apart_are_noticed(editor):
    sheet = Sheet(editor)
    keys = sorted(row[sheet.at("Key")] for row in sheet.rows)
    for row, key in zip(sheet.rows, keys, strict=True):
        row[sheet.at("Key")] = key
    page = upload(editor, sheet.content)
    assert page.status_code == 422 and b"sorted apart" in page.content


def test_a_sheet_of_another_site_is_refused(editor, net, staff):
    sheet = Sheet(editor)
    other = make_site(by=staff, customer=net.customer, code="barn", name="Barn")
    page = editor.post(
        "/at/larkfield/barn/read-back", {"file": SimpleUploadedFile("x.xlsx", sheet.content)}
    )
    assert page.status_code == 422 and b"made from another site: larkfield/mill" in page.content
    assert not read_site(other).devices


def test_a_record_removed_here_since_is_refused(editor, net, staff):
    sheet = Sheet(editor).fill("device-", Address="10.44.1.61")
    remove_record(by=staff, record=Device.objects.get())
    assert seen(upload(editor, sheet.content))["printer-1"][::2] == (
        "refused",
        "It was removed here since, or is of another site.",
    )


# -- what happened here since ------------------------------------------------------------------------


def move(staff, record, **values):
    record.refresh_from_db()
    kind = type(record).facts.kind
    change_record(by=staff, kind=kind, pk=record.pk, opened_at=record.edits, values=values)


@pytest.mark.parametrize("frozen", [False, True])
def test_both_sides_changed_different_fields(editor, net, staff, frozen):
    if frozen:
        freeze(by=staff, site=net, reason="for the network's owner")
    sheet = Sheet(editor, query="?revision=A" if frozen else "")
    h1 = Host.objects.get(name="mill-h1")
    move(staff, h1, address="10.44.1.13", memory_gib=128.0)
    page = upload(editor, sheet.fill(f"host-{h1.pk}/", MAC="00:00:5e:00:53:01").content)
    assert seen(page)["mill-h1"] == ("changed", [("MAC", "nothing", "00:00:5e:00:53:01")], "")
    assert page.context["stale"] and page.context["seen"].moved == 1
    confirm(editor, page)
    h1.refresh_from_db()
    assert (h1.mac, h1.address, h1.memory_gib) == ("00:00:5e:00:53:01", "10.44.1.13", 128)


@pytest.mark.parametrize("frozen", [False, True])
@pytest.mark.parametrize(
    ("choice", "kept"), [("here", "10.44.1.13"), ("sheet", "10.44.1.19"), ("", "10.44.1.13")]
)
def test_both_sides_changed_the_same_field_and_a_person_chooses(
    editor, net, staff, choice, kept, frozen
):
    if frozen:
        freeze(by=staff, site=net, reason="for the network's owner")
    sheet = Sheet(editor, query="?revision=A" if frozen else "")
    h1 = Host.objects.get(name="mill-h1")
    move(staff, h1, address="10.44.1.13")
    page = upload(
        editor, sheet.fill(f"host-{h1.pk}/", Address="10.44.1.19", MAC="00:00:5e:00:53:01").content
    )
    does, changes, clashes = seen(page)["mill-h1"]
    assert does == "conflict" and ("Management address", "10.44.1.13", "10.44.1.19") in changes
    assert clashes == [
        "Management address was changed here since: it was 10.44.1.11 on the sheet, it is 10.44.1.13 now."
    ]
    number = next(row.number for row in page.context["seen"].rows if row.whose == "mill-h1")
    confirm(editor, page, **({f"take-{number}": choice} if choice else {}))
    h1.refresh_from_db()
    assert (h1.address, h1.mac) == (kept, "00:00:5e:00:53:01")


def test_both_sides_changed_to_the_same(editor, net, staff):
    sheet = Sheet(editor).fill("server-", Address="10.44.1.6")
    move(staff, Server.objects.get(), address="10.44.1.6")
    assert seen(upload(editor, sheet.content))["dc-1"][0] == "unchanged"


def test_an_old_sheet_without_counters_makes_every_difference_a_conflict(editor, net, staff):
    sheet = Sheet(editor)
    for row in sheet.rows:  # as if from a plan that nobody kept
        row[sheet.at("Key")] = re.sub(
            r"/[0-9A-Z-]{9}/(.*)/[0-9]+$", r"/AAAA-AAAA/\1", row[sheet.at("Key")]
        )
    page = upload(editor, sheet.fill("server-", Address="10.44.1.6").content)
    does, _, clashes = seen(page)["dc-1"]
    assert does == "conflict" and "nobody can tell what it was" in clashes[0]


def test_a_site_that_moves_between_looking_and_confirming_is_shown_again(editor, net, staff):
    page = upload(editor, Sheet(editor).fill("server-", Address="10.44.1.6").content)
    move(staff, Server.objects.get(), address="10.44.1.7")
    again = confirm(editor, page)
    assert again.status_code == 409 and b"The site has moved on" in again.content
    assert seen(again)["dc-1"][0] == "conflict"
    assert read_site(net).servers[0].address == "10.44.1.7"
    number = next(row.number for row in again.context["seen"].rows if row.whose == "dc-1")
    assert confirm(editor, again, **{f"take-{number}": "sheet"}).status_code == 302
    assert read_site(net).servers[0].address == "10.44.1.6"


# -- clashes -----------------------------------------------------------------------------------------


def test_an_address_that_somebody_else_claims_is_a_conflict(editor, net):
    h2 = Host.objects.get(name="mill-h2")
    sheet = (
        Sheet(editor)
        .fill(f"host-{h2.pk}/", Address="10.44.1.5")
        .new(Name="camera-1", Address="10.44.1.60")
    )
    page = upload(editor, sheet.content)
    assert seen(page)["mill-h2"][::2] == (
        "conflict",
        ["10.44.1.5 is claimed by dc-1 (server) too."],
    )
    assert seen(page)["camera-1"][::2] == (
        "conflict",
        ["10.44.1.60 is claimed by printer-1 (device) too."],
    )
    confirm(editor, page)  # left as it stands
    h2.refresh_from_db()
    assert h2.address == "" and Device.objects.count() == 1
    [number] = [row.number for row in page.context["seen"].rows if row.whose == "camera-1"]
    confirm(editor, upload(editor, sheet.content), **{f"take-{number}": "sheet"})
    assert Device.objects.get(name="camera-1").address == "10.44.1.60"


def test_two_that_swap_their_addresses_do_not_clash(editor, net):
    h1, dc = Host.objects.get(name="mill-h1"), read_site(net).servers[0]
    sheet = (
        Sheet(editor).fill(f"host-{h1.pk}/", Address=dc.address).fill("server-", Address=h1.address)
    )
    page = upload(editor, sheet.content)
    assert {seen(page)[name][0] for name in ("mill-h1", "dc-1")} == {"changed"}
    confirm(editor, page)
    h1.refresh_from_db()
    assert (h1.address, read_site(net).servers[0].address) == ("10.44.1.5", "10.44.1.11")


def test_the_same_sheet_read_twice_adds_nobody_twice(editor):
    sheet = Sheet(editor).new(Name="camera-1", What_it_is="camera")
    confirm(editor, upload(editor, sheet.content))
    assert Device.objects.filter(name="camera-1").count() == 1
    again = upload(editor, sheet.content)
    assert seen(again)["camera-1"][::2] == (
        "conflict",
        ["A device called camera-1 stands here already."],
    )
    confirm(editor, again)
    assert Device.objects.filter(name="camera-1").count() == 1


def test_a_new_device_finds_its_network_by_subnet_or_vlan(editor):
    sheet = (
        Sheet(editor)
        .new(Name="a", Subnet="10.44.2.0/24")
        .new(Name="b", VLAN="10")
        .new(Name="c", Address="2001:db8::9")
    )
    confirm(editor, upload(editor, sheet.content))
    made = {one.name: one for one in Device.objects.exclude(name="printer-1")}
    assert (made["a"].network.name, made["b"].network.name, made["c"].network) == (
        "desks",
        "core",
        None,
    )
    assert made["c"].ipv6_address == "2001:db8::9"


# -- all or nothing ----------------------------------------------------------------------------------


def test_one_transaction(editor, net, monkeypatch):
    from sites.actions import reading_back

    h1, h2 = Host.objects.order_by("pk")
    sheet = Sheet(editor).fill(f"host-{h1.pk}/", Name="x1").fill(f"host-{h2.pk}/", Name="x2")
    page, real, calls = upload(editor, sheet.content), reading_back.change_record, []

    def breaks(**words):
        calls.append(words)
        if len(calls) == 2:
            raise reading_back.Refused("Somebody was faster.")
        return real(**words)

    monkeypatch.setattr(reading_back, "change_record", breaks)
    assert confirm(editor, page).status_code == 302 and len(calls) == 2
    assert [host.name for host in Host.objects.order_by("pk")] == ["mill-h1", "mill-h2"]


def test_what_was_read_is_good_for_one_person_at_one_site(editor, net, staff, people, enter):
    page = upload(editor, Sheet(editor).fill("server-", Address="10.44.1.6").content)
    assert confirm(enter(people["lead"]), page).status_code == 422
    make_site(by=staff, customer=net.customer, code="barn", name="Barn")
    text = page.content.decode()
    parcel = re.search('name="parcel" value="([^"]*)"', text)[1]
    client = enter(people["editor"])
    assert client.post("/at/larkfield/barn/read-back", {"parcel": parcel}).status_code == 422
    assert client.post(URL, {"parcel": parcel[:-3] + "abc"}).status_code == 422
    assert read_site(net).servers[0].address == "10.44.1.5"


def test_formulas_in_names_come_back_as_they_were(editor, net, staff):
    add_record(
        by=staff,
        site=net,
        kind="device",
        values={"name": "=1+1", "what": "+43; =A1", "address": "10.44.1.80"},
    )
    for ending in ("csv", "xlsx"):
        data = editor.get(f"{HERE}print/allocation-sheet.{ending}").content
        assert {row.does for row in upload(editor, data).context["seen"].rows} == {"unchanged"}


def test_dates_and_numbers_that_a_spreadsheet_made_are_refused_not_written(editor):
    book_row = Sheet(editor).fill("server-", Name=dt.datetime(2026, 3, 2), Address=10.44)
    page = upload(editor, book_row.content)
    assert seen(page)["dc-1"][0] == "refused"
