"""9.2 Ports on screen: every line, and the sheet looked at from each side."""

from __future__ import annotations

import html
import re

import html5lib
import pytest

from planner.engine.flows import port_sheet as flows
from sites.actions.records import add_record, change_record
from sites.actions.stages import give_answer
from sites.loading import read_site
from sites.pages import ports
from sites.pages.standing import plan_of

URL = "/at/larkfield/mill/addresses/"


@pytest.fixture
def planned(site, staff):
    """A small site: people behind a firewall, desktops, a directory server, hosts; gives the records by name."""

    def add(kind: str, **values):
        return add_record(by=staff, site=site, kind=kind, values=values)

    core = add("network", name="core", purpose="management", cidr="10.44.1.0/24")
    desks = add(
        "network",
        name="desks",
        purpose="desktops",
        cidr="10.44.2.0/24",
        dhcp="range",
        dhcp_server="dc-1",
        reaches=[core.pk],
    )
    lan = add("network", name="lan", purpose="clients", cidr="10.44.3.0/24")
    host = add(
        "host", name="mill-h1", network_id=core.pk, address="10.44.1.11", time_source="10.44.1.5"
    )
    dc = add(
        "server",
        name="dc-1",
        network_id=core.pk,
        address="10.44.1.5",
        roles=["directory", "dns", "dhcp"],
    )
    broker = add(
        "appliance", name="broker-1", network_id=core.pk, address="10.44.1.31", host_id=host.pk
    )
    rdp = add("protocol", name="RDP", tcp_port=3389, udp_port=3389)
    image = add("image", name="office", activation="subscription")
    template = add(
        "template", name="front desk", network_id=desks.pk, image_id=image.pk, protocol_id=rdp.pk
    )
    seats = add("seatgroup", name="Reception", template_id=template.pk, network_id=lan.pk)
    service = read_site(site).service
    change_record(
        by=staff,
        kind="service",
        pk=service.id,
        opened_at=1,
        values={
            "entry_name": "desk.larkfield.example",
            "network_id": core.pk,
            "address": "10.44.1.30",
            "agent_ports": ["8443/tcp"],
            "outside_access": "none",
        },
    )
    directory = read_site(site).directory
    values = {"directory_kind": "domain", "domain": "corp.larkfield.example", "ldaps": False}
    change_record(by=staff, kind="directory", pk=directory.id, opened_at=1, values=values)
    return {
        "core": core,
        "desks": desks,
        "lan": lan,
        "mill-h1": host,
        "dc-1": dc,
        "broker-1": broker,
        "front desk": template,
        "Reception": seats,
        "office": image,
    }


def section(client, asked: str = "") -> str:
    """The ports' part of the page, as text with its tags; the page must be well-formed."""
    response = client.get(URL + asked)
    assert response.status_code == 200
    page = response.content.decode()
    html5lib.HTMLParser(strict=True).parse(page)
    return page[page.index('<section id="ports"') :].partition("</section>")[0]


def words(text: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", text)).split())


def numbers(text: str) -> list[int]:
    """The lines' numbers in the order of the page."""
    return [int(one) for one in re.findall(r'<span class="line-number">(\d+)<', text)]


def test_every_line_is_there_with_its_number_why_and_source(people, site, planned, enter):
    found = section(enter(people["reader"]))
    lines = flows.work_out(read_site(site)).flows
    assert sorted(numbers(found)) == list(range(1, len(lines) + 1))
    text = words(found)
    for flow in lines:
        port = f"{flow.ports}/{flow.transport.upper()}" if flow.ports else "ICMP"
        assert all(
            one in text for one in (flow.source.label, flow.target.label, port, flow.iana, flow.why)
        ), flow
        assert f"Source: {flow.citation}" in text
    assert "the firewall between lan and core one way" in text
    assert "host firewalls only opened from both sides" in text
    assert "people: Reception lan: 10.44.3.0/24" in text


def test_an_empty_site_is_told_where_lines_come_from(people, site, enter):
    assert "Nothing to pass yet" in section(enter(people["reader"]))


@pytest.mark.parametrize(
    "view", [*ports.VIEWS, "odd", "", "all&between=x-1-y", "pairs&between=unknown-unknown"]
)
def test_each_side_is_a_page_without_script(people, planned, enter, view):
    found = section(enter(people["reader"]), f"?ports={view}")
    chosen = view.partition("&")[0]
    assert found.count("aria-current") == 1
    assert f'?ports={chosen if chosen in ports.VIEWS else "all"}#ports" aria-current' in found


def test_by_firewall(people, planned, enter):
    text = words(section(enter(people["reader"]), "?ports=firewall"))
    assert (
        "Between core and lan" in text
        and "Between desks and lan" in text
        and "Between core and desks" not in text
    )
    assert (
        "443/TCP https" in text and "88/TCP" not in text
    )  # the directory is reached without a firewall


def test_by_pair_of_networks(people, site, planned, enter):
    client = enter(people["reader"])
    matrix = section(client, "?ports=pairs")
    lan, desks, core = (planned[name].pk for name in ("lan", "desks", "core"))
    assert numbers(matrix) == []
    assert re.search(rf'class="wall" href="[^"]*between={lan}-{desks}#pair">2<', matrix)
    assert re.search(rf'<a\s+href="[^"]*between={desks}-{core}#pair">', matrix)
    chosen = section(client, f"?ports=pairs&between={lan}-{desks}")
    assert len(numbers(chosen)) == 2 and "lan to desks: through a firewall" in words(chosen)
    assert len(numbers(section(client, f"?ports=pairs&between={desks}-{lan}"))) == 0


def test_by_machine(people, planned, enter):
    client = enter(people["reader"])
    assert numbers(section(client, "?ports=machine")) == []
    found = words(section(client, f"?ports=machine&machine=server-{planned['dc-1'].pk}"))
    sends, _, lets_in = found.partition("dc-1 must let in")
    assert "68/UDP bootpc" in sends and "88/TCP" not in sends
    assert "88/TCP kerberos" in lets_in and "53/UDP domain" in lets_in and "68/UDP" not in lets_in
    assert "Everybody who takes part" in words(
        section(client, "?ports=machine&machine=server-999999")
    )


def test_a_line_that_both_sides_open_is_told_from_the_machines_own_side(people, planned, enter):
    found = words(
        section(
            enter(people["reader"]), f"?ports=machine&machine=appliance-{planned['broker-1'].pk}"
        )
    )
    sends, _, lets_in = found.partition("broker-1 must let in")
    to_desktops = "appliances: broker-1 core: 10.44.1.31 desktops: front desk desks: 10.44.2.0/24"
    to_appliances = "desktops: front desk desks: 10.44.2.0/24 appliances: broker-1 core: 10.44.1.31"
    assert f"{to_desktops} host firewalls only opened from both sides" in sends
    assert f"{to_appliances} host firewalls only opened from both sides" in lets_in


def test_what_desktops_let_in_is_a_list_of_its_own(people, planned, enter):
    text = words(section(enter(people["reader"]), "?ports=desktops"))
    assert all(
        one in text
        for one in ("3389/TCP", "3389/UDP", "8443/TCP", "68/UDP", "Into the desktops of")
    )
    assert "88/TCP" not in text and "443/TCP https" not in text


def test_what_is_missing_leads_to_its_chapter(people, site, staff, planned, enter):
    template = add_record(by=staff, site=site, kind="template", values={"name": "workshop"})
    client = enter(people["reader"])
    found = section(client)
    anchor = f"template-{template.pk}"
    assert "the network of workshop" in words(found)
    assert f'href="/at/larkfield/mill/desktops/#{anchor}"' in found
    for url in set(re.findall(r'href="(/at/larkfield/mill/[a-z]+/)#', found)):
        assert client.get(url).status_code == 200
    assert f'id="{anchor}"' in client.get("/at/larkfield/mill/desktops/").content.decode()


def test_every_place_of_a_gap_is_on_its_page(people, planned, site, staff, enter):
    """With nearly everything unknown, each link's anchor stands on the page it leads to."""
    for kind in ("template", "seatgroup", "host", "appliance", "server", "datastore"):
        values = {"name": "?", **({"roles": ["keys"]} if kind == "server" else {})}
        add_record(
            by=staff,
            site=site,
            kind=kind,
            values=values | ({"sharing": "shared"} if kind == "datastore" else {}),
        )
    add_record(by=staff, site=site, kind="flow", values={"name": "odd"})
    service = read_site(site).service
    change_record(
        by=staff,
        kind="service",
        pk=service.id,
        opened_at=2,
        values={"entry_name": "", "agent_ports": [], "outside_access": "gateway"},
    )
    client = enter(people["editor"])
    links = set(re.findall(r'href="(/at/larkfield/mill/[a-z]+/)#([a-z0-9-]+)"', section(client)))
    assert len(links) > 8
    for url, anchor in links:
        assert f'id="{anchor}"' in client.get(url).content.decode(), (url, anchor)


def test_answers_show_what_was_seen_to_pass(people, site, staff, planned, enter):
    client = enter(people["reader"])
    assert "Seen to pass: open" in words(section(client))
    give_answer(
        by=staff,
        site=site,
        key=f"display-port-answers@image-{planned['office'].pk}",
        state="proven",
        proof="x",
    )
    text = words(section(client))
    assert "proven" in text and "3389/TCP" in text
    [row] = [one for one in ports.sheet(plan_of(site), {}).rows if one.flow.rule == "display"]
    assert [(one.state, one.ports) for one in row.seen] == [
        ("proven", "3389/TCP"),
        ("open", "3389/UDP"),
    ]
    give_answer(
        by=staff, site=site, key="flows-open", state="failed", proof="445 from desks did not answer"
    )
    assert "445 from desks did not answer" in words(section(client))


def test_what_people_typed_stays_text(people, site, staff, planned, enter):
    add_record(
        by=staff,
        site=site,
        kind="flow",
        values={
            "name": "<script>alert(1)</script>",
            "from_what": "<b>",
            "to_what": "&amp;",
            "ports": "<i>",
        },
    )
    for view in ports.VIEWS:
        found = section(enter(people["reader"]), f"?ports={view}")
        assert "<script>" not in found and "<i>" not in found


def test_many_networks_are_read_as_a_list(people, site, staff, planned, enter, monkeypatch):
    monkeypatch.setattr(ports, "MATRIX_MOST", 2)
    found = section(enter(people["reader"]), "?ports=pairs")
    assert "<table" not in found and "lan to desks" in words(found)
    monkeypatch.setattr(ports, "AT_ONCE", 0)
    assert numbers(section(enter(people["reader"]), "?ports=firewall")) == []
    between = f"{planned['lan'].pk}-{planned['desks'].pk}"  # the other way round finds it too
    assert len(numbers(section(enter(people["reader"]), f"?ports=firewall&between={between}"))) == 2


def test_what_the_page_leaves_to_the_sheet_is_told(people, site, planned, enter, monkeypatch):
    monkeypatch.setattr(ports, "ROWS_SHOWN", 2)
    found = section(enter(people["reader"]))
    lines = len(flows.work_out(read_site(site)).flows)
    assert f"and {lines - len(numbers(found))} more lines, in the port sheet" in words(found)
    assert 0 < len(numbers(found)) < lines
