"""Drawings: legible whatever the site, safe in a page under a strict policy, and the same on paper."""

from __future__ import annotations

import dataclasses
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reportlab.graphics import renderPDF
from reportlab.graphics import shapes as rl

from planner.papers import fonts
from planner.papers.drawings import (
    bars,
    paper,
    shapes,
    site,
    site_lanes,
    strips,
    svg,
    to_reportlab,
    to_svg,
)
from planner.plan import Plan
from planner.record import facts as f
from tests.engine.test_flows import LISTED, any_record, small_site
from tests.factories import plan_of, site_facts

ODD = "<b>&\"'\x00\x1b\ud800\u202e 東京 😀 \n=1+1 " + "long " * 40


def flat(found: tuple[shapes.Shape, ...], x: float = 0, y: float = 0) -> Iterator[shapes.Shape]:
    for shape in found:
        if isinstance(shape, shapes.Group):
            yield from flat(shape.shapes, x + shape.x, y + shape.y)
        else:
            yield shape


def texts(drawing: shapes.Drawing) -> list[shapes.Text]:
    return [
        shape
        for shape in flat(drawing.shapes)
        if isinstance(shape, shapes.Text) and shape.text.strip()
    ]


def words(drawing: shapes.Drawing) -> str:
    return " | ".join(text.text for text in texts(drawing))


def box(text: shapes.Text) -> tuple[float, float, float, float]:
    """Left, top, right, bottom: letters reach about 0.72 over their base line and 0.2 under it."""
    wide = fonts.width(text.text, text.size, text.font)
    left = text.x - {"start": 0, "middle": wide / 2, "end": wide}[text.anchor]
    return left, text.y - 0.72 * text.size, left + wide, text.y + 0.2 * text.size


def assert_legible(drawing: shapes.Drawing) -> None:
    """No words over other words, none over the edge."""
    boxes = sorted((box(text), text.text) for text in texts(drawing))
    for at, (one, told) in enumerate(boxes):
        assert one[0] >= -0.5 and one[2] <= drawing.width + 0.5, f"{told!r} leaves the drawing"
        assert one[1] >= -0.5 and one[3] <= drawing.height + 0.5, f"{told!r} leaves the drawing"
        for other, also in boxes[at + 1 :]:
            if other[0] >= one[2]:
                break
            assert other[1] >= one[3] - 0.5 or other[3] <= one[1] + 0.5, (
                f"{told!r} and {also!r} overlap"
            )


def big_site() -> Plan:
    """Twelve hosts, twenty-five networks, 600 people, some five hundred claims."""
    kinds = ("management", "desktops", "storage", "clients", "perimeter", "remote")
    networks = [
        f.Network(
            id=n,
            name=f"{kinds[n % 6]} {n}",
            purpose=kinds[n % 6],
            vlan=n * 10,
            cidr=f"10.44.{n}.0/24",
            gateway=f"10.44.{n}.1",
            dhcp="range",
            dhcp_first=f"10.44.{n}.100",
            dhcp_last=f"10.44.{n}.240",
            reaches=(n % 25 + 1,),
        )
        for n in range(1, 26)
    ]
    hosts = [
        f.Host(
            id=n,
            name=f"a-long-host-name-{n}",
            memory_gib=256,
            sockets=2,
            cores_per_socket=16,
            network_id=6,
            address=f"10.44.6.{10 + n}",
            out_of_band_address=f"10.44.12.{10 + n}",
            state="to-buy" if n > 9 else "",
        )
        for n in range(1, 13)
    ]
    rest: list[f.Record] = [
        f.Datastore(id=n, name=f"h{n}-local", sharing="local", host_id=n) for n in range(1, 13)
    ]
    rest += [
        f.Appliance(
            id=n,
            name=f"broker-{n}",
            host_id=n,
            network_id=6,
            address=f"10.44.6.{30 + n}",
            memory_gib=8,
            vcpu=4,
        )
        for n in range(1, 5)
    ]
    rest += [
        f.Server(
            id=n,
            name=f"dc-{n}",
            network_id=6,
            address=f"10.44.6.{200 + n}",
            roles=("directory", "dns", "time"),
        )
        for n in range(1, 9)
    ]
    rest += [
        f.Device(
            id=n,
            name=f"device-{n}",
            network_id=n % 25 + 1,
            address=f"10.44.{n % 25 + 1}.{2 + n // 25}",
        )
        for n in range(1, 441)
    ]
    rest += [
        f.Template(
            id=n, name=f"template {n}", network_id=1 + 6 * (n % 4), memory_gib=4, vcpu=2, most=60
        )
        for n in range(1, 9)
    ]
    rest += [
        f.SeatGroup(
            id=n, name=f"Group {n}", template_id=n % 8 + 1, network_id=3 + 6 * (n % 4), people=25
        )
        for n in range(1, 25)
    ]
    return plan_of(
        *networks,
        *hosts,
        *rest,
        f.Protocol(id=1, name="RDP"),
        f.Service(entry_name="desk.example.org", network_id=6),
    )


def odd_site() -> Plan:
    """Every name is as awkward as can be."""
    records = [
        dataclasses.replace(
            record,
            **{name: ODD for name in ("name", "what", "entry_name") if hasattr(record, name)},
        )
        for record in small_site()
    ]
    return plan_of(*records, f.Device(name=ODD, network_id=1, address="10.44.1.60"), customer=ODD)


SITES = {
    "empty": lambda: plan_of(),
    "small": lambda: plan_of(*small_site()),
    "one host": lambda: plan_of(f.Network(id=1, cidr="192.168.1.0/24"), f.Host(id=1, network_id=1)),
    "no hosts": lambda: plan_of(f.Network(id=1, name="lan", vlan=4, cidr="192.168.1.0/24")),
    "no networks": lambda: plan_of(f.Host(id=1, name="h1", address="192.168.1.4", memory_gib=64)),
    "big": big_site,
    "odd": odd_site,
}


@pytest.fixture(params=SITES, scope="module")
def plan(request) -> Plan:
    return SITES[request.param]()


# -- the site drawing --------------------------------------------------------------------------------


def test_no_words_run_into_each_other(plan):
    assert_legible(site.draw(plan))
    assert_legible(bars.draw(plan))
    for network in plan.facts.networks[:3]:
        assert_legible(strips.draw(plan, network.id))


def test_the_empty_place_teaches():
    drawing = site.draw(plan_of())
    assert "Networks (2.1) become lanes" in words(drawing)
    assert drawing.description.startswith("Nothing to draw yet")
    assert "Nothing is placed yet." in words(bars.draw(plan_of()))


def test_lanes_say_their_network():
    told = words(site.draw(plan_of(*small_site())))
    for part in (
        "core",
        "10.44.1.0/24",
        "desks",
        "24 people · Reception",
        "dc-1 .5 · directory, DNS, DHCP, time",
        "desk.larkfield.example .30",
        "broker-1",
    ):
        assert part in told, part


def test_hosts_touch_the_lanes_they_have_an_address_in():
    gathered = site_lanes.gather(plan_of(*small_site()))
    core, desks, lan = gathered.lanes
    assert [touch.text for touch in core.touches[1]] == [".11", "broker-1 .31"]
    assert [touch.text for touch in core.touches[2]] == [".12"]
    assert not lan.touches
    assert not desks.touches  # no memory is known, so nothing is placed


def test_placed_desktops_stand_on_their_host_and_in_their_lane():
    records = [
        f.Network(id=1, name="core", cidr="10.44.1.0/24"),
        f.Network(id=2, name="desks", cidr="10.44.2.0/24"),
        f.Host(
            id=1,
            name="mill-h1",
            memory_gib=96,
            sockets=2,
            cores_per_socket=8,
            network_id=1,
            address="10.44.1.11",
        ),
        f.Template(id=1, name="front desk", network_id=2, memory_gib=4, vcpu=2, most=3),
    ]
    gathered = site_lanes.gather(plan_of(*records))
    assert [line.text for line in gathered.columns[0].lines][-1] == "3 front desk"
    assert [touch.text for touch in gathered.lanes[1].touches[1]] == ["3 desktops"]


def test_what_is_on_no_network_has_a_place_of_its_own():
    plan = plan_of(*small_site(), f.SeatGroup(id=9, name="Out on calls", people=4))
    last = site_lanes.gather(plan).lanes[-1]
    assert (last.name, last.chips[0].text) == ("not on a network yet", "4 people · Out on calls")


def test_many_devices_are_counted():
    devices = [f.Device(id=n, name=f"d-{n}", network_id=1) for n in range(1, 31)]
    chips = site_lanes.gather(plan_of(f.Network(id=1, name="lan"), *devices)).lanes[0].chips
    assert [chip.text for chip in chips][-2:] == ["d-6", "+24 more devices"]


def test_a_site_too_large_to_draw_is_counted_in_words():
    networks = [f.Network(id=n, name=f"n{n}") for n in range(1, 101)]
    hosts = [f.Host(id=n, name=f"h{n}", network_id=1) for n in range(1, 101)]
    drawing = site.draw(plan_of(*networks, *hosts))
    assert "and 70 more networks, not drawn" in words(drawing)
    assert "and 86 more hosts, not drawn" in words(drawing)
    assert drawing.description.startswith("100 networks and 100 hosts.")
    assert_legible(drawing)


@pytest.mark.parametrize(
    ("address", "cidr", "told"),
    [
        ("10.44.1.11", "10.44.1.0/24", ".11"),
        ("10.44.1.11", "10.44.0.0/16", ".1.11"),
        ("10.44.1.11", "10.0.0.0/8", ".44.1.11"),
        ("10.44.1.0", "10.44.1.0/24", ".0"),
        ("192.0.2.7", "10.44.1.0/24", "192.0.2.7"),
        ("192.0.2.7", "", "192.0.2.7"),
        ("", "10.44.1.0/24", "?"),
        ("nonsense", "10.44.1.0/24", "nonsense"),
    ],
)
def test_addresses_are_told_without_what_the_subnet_says(address, cidr, told):
    assert site_lanes.short(address, f.Network(cidr=cidr)) == told


def test_flows_between_lanes_are_numbered_and_told():
    drawing = site.draw(plan_of(*small_site()))
    told = words(drawing)
    assert "lan → desks, through a firewall: display 3389" in told
    assert "desks → core, no firewall between: agent 8443, 9000-9010; directory 88" in told
    assert "lan → core, through a firewall: entry 443" in drawing.description
    assert [text.text for text in texts(drawing)].count("1") == 2  # at the arrow and in the key


def test_at_most_a_handful_of_flows_one_of_each_sort_first():
    told = words(site.draw(big_site()))
    assert re.search("6 of [0-9]+ pairs of networks", told)
    assert "display 3389" in told and "entry 443" in told
    assert told.count("→") == 6


@settings(max_examples=80, deadline=None)
@given(st.lists(st.one_of(*map(any_record, LISTED)), max_size=14), any_record(f.Service))
def test_any_facts_can_be_drawn(records, service):
    plan = Plan(site_facts(*records, service))
    for drawing in (
        site.draw(plan),
        bars.draw(plan),
        *(strips.draw(plan, one.id) for one in plan.facts.networks),
    ):
        ET.fromstring(to_svg(drawing, "x"))
        assert_legible(drawing)


# -- bars and strips -----------------------------------------------------------------------------------


def two_hosts(memory: float) -> Plan:
    return plan_of(
        f.Host(id=1, name="mill-h1", memory_gib=96, sockets=2, cores_per_socket=8),
        f.Host(id=2, name="mill-h2", memory_gib=48, sockets=2, cores_per_socket=8),
        f.Template(id=1, name="front desk", memory_gib=memory, vcpu=1, most=20),
    )


def test_bars_are_as_long_as_memory_is_large():
    drawing = bars.draw(two_hosts(2))
    outlines = [
        shape
        for shape in drawing.shapes
        if isinstance(shape, shapes.Rect) and shape.stroke == "ink"
    ]
    # Two hosts and, with either down, the other: the last outline is the key's.
    assert outlines[0].width == pytest.approx(2 * outlines[1].width)
    assert outlines[2].width == pytest.approx(outlines[3].width / 2)
    assert "all fit, 20 desktops" in words(drawing)
    assert not [shape for shape in drawing.shapes if isinstance(shape, shapes.Rect) and shape.hatch]


def test_what_does_not_fit_is_hatched_and_said():
    plan = two_hosts(4)
    drawing = bars.draw(plan)
    left_out = [down.left_out for down in plan.placement.without]
    assert left_out[0] > 0
    assert f"‡ {left_out[0]} left out" in words(drawing)
    assert f"mill-h1 down, all on mill-h2: {left_out[0]} left out" in drawing.description
    assert [
        shape
        for shape in drawing.shapes
        if isinstance(shape, shapes.Rect) and shape.hatch == "stopper"
    ]


def test_a_host_whose_memory_nobody_knows_has_no_bar():
    drawing = bars.draw(
        plan_of(f.Host(id=1, name="h1"), f.Template(id=1, memory_gib=4, vcpu=1, most=1))
    )
    assert not [
        shape
        for shape in drawing.shapes
        if isinstance(shape, shapes.Rect) and shape.fill == "line" and shape.height == 22
    ]


def strip_of(
    cidr: str, *addresses: str, **network
) -> tuple[shapes.Drawing, dict[tuple[int, int], str]]:
    """A strip's letters by row and column."""
    devices = [
        f.Device(id=at, name=f"d{at}", network_id=1, address=one)
        for at, one in enumerate(addresses, 1)
    ]
    drawing = strips.draw(plan_of(f.Network(id=1, name="n", cidr=cidr, **network), *devices), 1)
    rows = max(text.y for text in texts(drawing) if text.anchor == "end")
    return drawing, {
        (
            round((text.y - 14.5) / strips.TALL),
            round((text.x - strips.LEFT - 11) / strips.CELL),
        ): text.text
        for text in texts(drawing)
        if text.anchor == "middle" and text.y <= rows
    }


def test_every_address_has_its_cell():
    drawing, cells = strip_of(
        "10.44.1.0/24", "10.44.1.5", "10.44.1.33", "10.44.1.254", gateway="10.44.1.1"
    )
    # Thirty-two addresses a row: 33 is the second of the second row, 254 the last but one of the eighth.
    assert cells == {(0, 1): "G", (0, 5): "D", (1, 1): "D", (7, 30): "D"}
    assert drawing.description == "254 usable addresses, 4 taken, 250 free."


def test_a_clash_is_marked_and_told():
    drawing, cells = strip_of("10.44.1.0/24", "10.44.1.5", "10.44.1.5")
    assert cells == {(0, 5): "‡"}
    assert "2 claim 10.44.1.5." in drawing.description


def test_larger_networks_are_counted_in_256_parts():
    drawing, cells = strip_of("10.44.0.0/16", "10.44.0.9", "10.44.0.10", "10.44.40.1")
    assert cells == {
        (0, 0): "2",
        (1, 8): "1",
    }  # each cell is a /24: 40 is the ninth of the second row
    assert "claims in 256 addresses" in words(drawing)


def test_leased_addresses_are_hatched():
    drawing, _ = strip_of(
        "10.44.1.0/24", dhcp="range", dhcp_first="10.44.1.40", dhcp_last="10.44.1.100"
    )
    leased = [
        shape for shape in flat(drawing.shapes) if isinstance(shape, shapes.Rect) and shape.hatch
    ][:-1]
    assert sum(shape.width for shape in leased) == 61 * strips.CELL


@pytest.mark.parametrize(
    "cidr", ["10.0.0.0/8", "0.0.0.0/0", "10.44.1.0/28", "10.44.1.0/31", "10.44.1.1/32", "", "x"]
)
def test_strips_of_any_size(cidr):
    drawing = strips.draw(plan_of(f.Network(id=1, cidr=cidr)), 1)
    assert_legible(drawing)
    assert drawing.description


def test_the_strip_of_a_network_that_is_not_there():
    assert "needs the network's subnet" in strips.draw(plan_of(), 99).description


# -- SVG -------------------------------------------------------------------------------------------


def test_svg_is_well_formed_and_named(plan):
    for drawing in (site.draw(plan), bars.draw(plan)):
        root = ET.fromstring(to_svg(drawing, "one"))
        space = {"s": "http://www.w3.org/2000/svg"}
        title, told = root.find("s:title", space), root.find("s:desc", space)
        assert root.get("role") == "img"
        assert root.get("aria-labelledby") == f"{title.get('id')} {told.get('id')}"
        assert title.text == drawing.title and told.text


def test_svg_keeps_to_a_strict_policy(plan):
    # Source: W3C Content Security Policy Level 3: style attributes, style elements and scripts need 'unsafe-inline'
    text = to_svg(site.draw(plan), "one")
    root = ET.fromstring(text)
    for element in root.iter():
        assert element.tag.split("}")[1] not in (
            "style",
            "script",
            "a",
            "image",
            "use",
            "foreignObject",
        )
        assert not [
            name
            for name in element.attrib
            if name == "style" or name.startswith("on") or "href" in name
        ]
    for used in re.findall(r"url\(([^)]*)\)", text):
        assert used.startswith("#")


def test_ids_are_unique_on_a_page():
    drawing = bars.draw(two_hosts(4))
    found = re.findall(r'\bid="([^"]+)"', to_svg(drawing, "up") + to_svg(drawing, "down"))
    assert len(found) == len(set(found)) >= 6
    for text in (to_svg(drawing, "up"), to_svg(drawing, 'x" onload="')):
        ids = re.findall(r'\bid="([^"]+)"', text)
        assert all(re.fullmatch("[A-Za-z][A-Za-z0-9_-]*", one) for one in ids)
        assert set(re.findall(r"url\(#([^)]*)\)", text)) <= set(ids)


def test_every_shape_has_the_class_of_its_role():
    drawing = shapes.Drawing(
        10,
        10,
        tuple(shapes.Rect(0, 0, 1, 1, fill=role, stroke=role) for role in shapes.ROLES),
        "t",
        "d",
    )
    text = to_svg(drawing, "x")
    for role in shapes.ROLES:
        assert f'class="d-fill-{role} d-stroke-{role}" fill="{svg.LIGHT[role]}"' in text
    assert set(svg.LIGHT) == set(paper.GREYS) == set(shapes.ROLES)


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=60))
def test_any_text_stays_text(text):
    drawing = shapes.Drawing(100, 20, (shapes.Text(0, 10, text),), text, text)
    root = ET.fromstring(to_svg(drawing, "x").encode())
    [found] = root.iter("{http://www.w3.org/2000/svg}text")
    assert (found.text or "") == shapes.clean(text)
    assert len(list(found)) == 0


# -- paper -----------------------------------------------------------------------------------------


def test_paper_is_grey_and_keeps_its_proportions(plan):
    for drawing in (site.draw(plan), bars.draw(plan)):
        picture = to_reportlab(drawing, 400)
        assert picture.width == 400
        assert picture.height == pytest.approx(400 * drawing.height / drawing.width)
        for shape in _inner(picture):
            for colour in (getattr(shape, "fillColor", None), getattr(shape, "strokeColor", None)):
                assert colour is None or colour.red == colour.green == colour.blue
        assert renderPDF.drawToString(picture).startswith(b"%PDF")


def _inner(group) -> Iterator[rl.Shape]:
    for shape in group.contents:
        if isinstance(shape, rl.Group):
            yield from _inner(shape)
        else:
            yield shape


def test_paper_turns_the_drawing_upright():
    drawing = shapes.Drawing(
        200, 100, (shapes.Text(10, 20, "a"), shapes.Rect(5, 30, 40, 10)), "t", "d"
    )
    text, rect = _inner(to_reportlab(drawing, 200))
    assert (text.x, text.y) == (10, 80)  # twenty below the top is eighty above the bottom
    assert (rect.x, rect.y, rect.width, rect.height) == (5, 60, 40, 10)


def test_groups_move_what_is_in_them():
    drawing = shapes.Drawing(100, 100, (shapes.Group((shapes.Text(1, 2, "a"),), 10, 20),), "t", "d")
    [text] = _inner(to_reportlab(drawing, 100))
    assert (text.x, text.y) == (11, 78)
    assert '<g transform="translate(10 20)">' in to_svg(drawing, "x")


@given(st.floats(0.01, 5000), st.floats(0.01, 5000))
def test_hatches_stay_in_their_box_and_rise_at_45_degrees(width, height):
    lines = list(paper.hatch(width, height))
    assert len(lines) <= 2 * paper.HATCH_MOST
    for x1, y1, x2, y2 in lines:
        assert -1e-6 <= x1 <= x2 <= width + 1e-6
        assert -1e-6 <= y1 <= y2 <= height + 1e-6
        assert x2 - x1 == pytest.approx(y2 - y1, abs=1e-6)


# -- fonts -----------------------------------------------------------------------------------------


def test_letters_a_face_does_not_have_are_replaced():
    assert fonts.fallback("Łódź, Ψυχή, Ёлка → ‡ …") == "Łódź, Ψυχή, Ёлка → ‡ …"
    assert fonts.fallback("東京 😀") == "?? ?"
    assert fonts.fallback("e\u0301 １２\tx\x00\u200b\u202e") == "é 12 x"


@given(st.text(max_size=40))
def test_whatever_is_left_can_be_drawn(text):
    assert all(ord(one) in fonts.glyphs() for one in fonts.fallback(text))


@given(st.text(max_size=60), st.floats(0, 200), st.booleans())
def test_labels_are_cut_to_their_room(text, room, middle):
    cut = fonts.shorten(text, room, 12, middle=middle)
    assert cut == text or fonts.width(cut, 12) <= room
    assert len(cut) <= len(text) + 1


def test_names_are_cut_where_they_are_alike():
    room = fonts.width("a-long-ho", 12)
    assert fonts.shorten("a-long-host-name-12", room, 12).endswith("…")
    assert fonts.shorten("a-long-host-name-12", room, 12, middle=True).endswith("-12")


@given(st.text(alphabet="abcdefgh", min_size=20, max_size=40), st.floats(20, 100))
def test_no_more_is_cut_than_must_be(text, room):
    kept = fonts.shorten(text, room, 12).removesuffix("…")
    assert text.startswith(kept)
    assert kept == text or fonts.width(text[: len(kept) + 1] + "…", 12) > room
