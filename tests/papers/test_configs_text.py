"""No typed text ever becomes a command: any facts, asked of the real programs."""

from __future__ import annotations

import dataclasses
import json
import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.papers.configs import CONFIGS, Edition, Ground
from planner.papers.configs.words import one_line, quoted
from planner.plan import Plan
from planner.record import facts as f
from tests.engine.test_flows import LISTED, any_record
from tests.factories import site_facts
from tests.papers.config_checkers import accepted, config

KINDS = sorted(CONFIGS)
BREAKERS = (
    '"',
    "'",
    "\\",
    "\\\n",
    "a\nb",
    "\r\n",
    "\n};\n",
    '"; accept; #',
    'x" accept\nflush ruleset\n',
    "*/",
    "?>",
    "${x}",
    '<?include "/etc/passwd"?>',
    '"}]}',
    ")",
    "\ninclude /etc/passwd",
    "\n$INCLUDE /etc/passwd\n",
    "\n@ IN A 10.9.9.9",
    "\ndhcp-script=/bin/sh",
    "\n10.9.9.9 bank.example\n",
    "a#b",
    "a;b",
    "a,b",
    "a\tb",
    "\0",
    "\x1b[2J",
    "\x85",
    "\u2028",
    "\u202ereversed",
    "\u200b",
    "\ufeff",
    "ä" * 200,
    "x" * 3000,
    "界" * 700,
    "`id`",
    "$(id)",
    "%n",
    "../../x",
    "&amp;",
    "",
)
NASTY = (
    st.sampled_from(BREAKERS)
    | st.text(max_size=60)
    | st.builds("{}{}{}".format, *[st.sampled_from(BREAKERS)] * 3)
)
SLOW = settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@given(NASTY | st.text())
def test_one_line_is_one_line(text):
    found = one_line(text, 80)
    assert len(found) <= 80
    assert found.isprintable() and found == found.strip()
    assert "\\" not in found
    inner = quoted(text, 120)[1:-1]
    assert '"' not in inner and len(inner.encode()) <= 120


def no_port(text: str) -> str:
    """A text where ports belong; "1" is a port, and to obey it is right."""
    a_port = re.fullmatch(r"\s*\d+(\s*\W+\s*\d+)*\s*(/\s*\w+)?\s*", text)
    return "x" if a_port or not text else text


def told_site(text: str) -> f.SiteFacts:
    """A site that every kind has much to say of, with a text in each place that is only ever told."""
    networks = (
        f.Network(
            id=1,
            name=text,
            purpose="management",
            cidr="10.44.1.0/24",
            gateway="10.44.1.1",
            dhcp="range",
            dhcp_first="10.44.1.100",
            dhcp_last="10.44.1.120",
            domain_suffix="corp.example",
            note=text,
            dns_servers=("10.44.1.5",),
            lease_minutes=480,
            vlan=7,
            dhcp_server="10.44.1.5",
        ),
        f.Network(
            id=2,
            name="desks",
            purpose="desktops",
            cidr="10.44.2.64/26",
            ipv6_prefix="2001:db8:2::/64",
            dhcp="range",
            dhcp_first="10.44.2.66",
            dhcp_last="10.44.2.100",
            gateway="10.44.2.65",
        ),
        f.Network(
            id=3,
            name="reversed " + text,
            cidr="10.44.3.0/24",
            dhcp="range",
            dhcp_first="10.44.3.9",
            dhcp_last="10.44.3.2",
        ),
    )
    return site_facts(
        *networks,
        f.Site(id=1, name=text, code="mill", street_address=text, scope=text),
        f.Server(
            id=1,
            name="dc-1",
            network_id=1,
            address="10.44.1.5",
            roles=("dns", "directory", "dhcp"),
            note=text,
        ),
        f.Device(
            id=1,
            name="printer-1",
            what=f"print {text}",
            network_id=1,
            address="10.44.1.101",
            holding="reserved",
            mac="00:00:5e:00:53:01",
        ),
        f.Device(
            id=2,
            name="far",
            what=text,
            network_id=2,
            address="10.44.2.70",
            ipv6_address="2001:db8:2::70",
        ),
        f.Host(id=1, name="h-1", model=text, network_id=1, address="10.44.1.11"),
        f.Service(id=1, name=text, entry_name="desk.example", network_id=1, address="10.44.1.30"),
        f.Protocol(id=1, name=f"picture {text}", tcp_port=7000),
        f.Template(id=1, name=text, network_id=2, protocol_id=1),
        f.SeatGroup(id=1, name=text, template_id=1, network_id=1),
        f.OwnFlow(
            id=1, name=text, from_network_id=2, to_network_id=1, transport="tcp", ports="5432"
        ),
        f.OwnFlow(
            id=2,
            name=text,
            from_network_id=2,
            to_network_id=1,
            transport="tcp",
            ports=no_port(text),
        ),
        f.OwnFlow(
            id=3, name=text, from_what="?" + text, to_network_id=1, transport="tcp", ports="81"
        ),
        f.Directory(id=1, domain="corp.example", desktop_ou=text),
        customer=text,
    )


def obeyed(slug: str, made) -> list:
    """What a program acts on: comments and strings that are only told taken away."""
    if slug == "dhcp-kea":
        return [without_words(json.loads(made.text))]
    found = []
    texts = (
        [text for name, text in made.files.items() if name.endswith(".zone")]
        if slug == "zones"
        else [made.text]
    )
    for text in texts:
        for line in text.split("\n"):
            line = re.sub(r'comment "[^"]*"', "", line) if slug == "firewall" else line
            line = re.sub(r"(^|\s+)[#;].*", "", line)
            found += [line] if line.strip() else []
    return found


def without_words(value):
    if isinstance(value, dict):
        return {
            name: without_words(inner) for name, inner in value.items() if name != "user-context"
        }
    return [without_words(inner) for inner in value] if isinstance(value, list) else value


@pytest.mark.parametrize("slug", KINDS)
@SLOW
@given(NASTY)
def test_told_text_changes_nothing_that_a_program_obeys(slug, tmp_path, text):
    """The same site with plain words and with a nasty text: what is obeyed is the same to the letter."""
    made = config(slug, told_site(text))
    assert obeyed(slug, made) == obeyed(slug, config(slug, told_site("plain")))
    assert len(obeyed(slug, made)) >= 1
    accepted(slug, made, tmp_path)
    for whole in (made.text, *made.files.values()):
        assert all(letter.isprintable() or letter in "\n\t" for letter in whole)
        if slug != "dhcp-kea":
            assert (
                max(len(line.encode()) for line in whole.split("\n")) < 1000
            )  # one program reads 1,025 bytes a line


OBEYED = {  # what a line may look like where people's names, addresses and ports stand in it
    "dhcp-dnsmasq": r"dhcp-lease-max=\d+|dhcp-range=set:net\d+,[\d.]+,[\d.]+,[\d.]+(,\d+)?"
    r"|dhcp-option=tag:net\d+,option:(router|dns-server|domain-name|T1|T2)(,[a-z0-9.,-]+)?"
    r"|dhcp-host=[0-9a-f:]{17},[\d.]+(,[a-z0-9-]+)?",
    "hosts": r"[0-9a-f.:]+ +[a-z0-9.-]+(  [a-z0-9-]+)?",
    "zones": r"\$ORIGIN [a-z0-9.-]+\.|\$TTL \d+|[a-z0-9.@-]+ +IN (A|AAAA|PTR|NS) +[a-z0-9.:-]+"
    r"|@ +IN SOA +[a-z0-9.-]+ [a-z0-9.-]+ \(| +\d+| +\d+ \d+ \d+ \d+ \)",
    "firewall": r"(delete )?table inet deskwright_[a-z0-9_]+( \{)?|\tset [a-z_]+_\d+ \{|\t\ttype ipv[46]_addr"
    r"|\t\tflags interval|\t\t|\t\telements = \{|\t\t\t[0-9a-f.:/]+,|\t\t\}|\t\}|\}|\tchain forward \{"
    r"|\t\ttype filter hook forward priority filter; policy drop;|\t\tct state established,related accept ?"
    r"|\t\tct state invalid drop ?|\t\tcounter drop ?|\t\tip6? saddr @[a-z_]+_\d+ ip6? daddr @[a-z_]+_\d+ "
    r"(icmp type echo-request|icmpv6 type echo-request|(tcp|udp) dport (\{ [\d, -]+ \}|[\d-]+)) accept ?",
}
ADDRESSES = st.sampled_from(
    [
        "10.44.1.5",
        "10.44.1.5",
        "10.44.1.200",
        "10.44.1.0",
        "10.44.1.255",
        "10.44.2.9",
        "0.0.0.0",
        "255.255.255.255",
        "127.0.0.1",
        "224.0.0.9",
        "169.254.1.1",
        "",
        "10.44.1.05",
        "nobody",
    ]
)
SIXES = st.sampled_from(
    [
        "",
        "2001:db8:1::5",
        "fe80::1",
        "fe80::1%eth0",
        "::",
        "::1",
        "ff02::1",
        "::ffff:10.0.0.1",
        "2001:db8::/64",
    ]
)
PREFIXES = st.sampled_from(
    [
        "10.44.1.0/24",
        "10.44.1.7/24",
        "10.44.1.0/25",
        "10.44.0.0/22",
        "10.0.0.0/8",
        "10.44.1.4/31",
        "10.44.1.5/32",
        "0.0.0.0/0",
        "224.0.0.0/4",
        "10.44.2.0/24",
        "192.0.2.128/26",
        "",
        "10.44.1.0/33",
    ]
)
PREFIXES_6 = st.sampled_from(
    [
        "",
        "2001:db8:1::/64",
        "2001:db8::/32",
        "2001:db8:1::/61",
        "::/0",
        "fe80::/10",
        "2001:db8:1::5/128",
    ]
)
NAMES = (
    st.sampled_from(
        ["dc-1", "DC-1", "dc-1.corp.example", "corp.example", "a.example", "x" * 63, "x" * 64, "1"]
    )
    | NASTY
)
DOMAINS = (
    st.sampled_from(
        ["corp.example", "example", "CORP.example.", "1.10.in-addr.arpa", "sub.corp.example"]
    )
    | NASTY
)
MACS = (
    st.sampled_from(
        ["00:00:5e:00:53:01", "00-00-5E-00-53-02", "01:00:5e:00:00:01", "", "00:00:5e:00:53"]
    )
    | NASTY
)
PORTS = (
    st.sampled_from(["443", "5000-5010", "5010-5000", "0", "80, 443", "443/tcp", "70000"]) | NASTY
)
OFTEN = {
    "address": ADDRESSES,
    "out_of_band_address": ADDRESSES,
    "gateway": ADDRESSES,
    "dhcp_first": ADDRESSES,
    "dhcp_last": ADDRESSES,
    "cidr": PREFIXES,
    "ipv6_prefix": PREFIXES_6,
    "ipv6_address": SIXES,
    "name": NAMES,
    "entry_name": NAMES,
    "management_name": NAMES,
    "domain": DOMAINS,
    "domain_suffix": DOMAINS,
    "mac": MACS,
    "holding": st.sampled_from(["reserved", "fixed", ""]),
    "ports": PORTS,
    "transport": st.sampled_from(["tcp", "udp", "icmp", ""]),
    "from_what": NASTY,
    "to_what": ADDRESSES | NASTY,
    "address_origin": st.sampled_from(["reserved", "fixed", "dynamic", ""]),
    "dns_servers": st.lists(ADDRESSES | SIXES, max_size=3).map(tuple),
    "roles": st.just(("dns", "directory", "dhcp")),
    "agent_ports": st.lists(PORTS, max_size=2).map(tuple),
    "dhcp_server": ADDRESSES | NASTY,
}
MANY = st.one_of(*(any_record(cls) for cls in LISTED))


@st.composite
def any_site(draw) -> f.SiteFacts:
    """A whole site with some values changed to others that fit or do not, and some records of any kind."""
    records = list(told_site("plain").records())
    for _ in range(draw(st.integers(0, 8))):
        at = draw(st.integers(0, len(records) - 1))
        fields = sorted({one.name for one in dataclasses.fields(records[at])} & set(OFTEN))
        if fields:
            field = draw(st.sampled_from(fields))
            records[at] = dataclasses.replace(records[at], **{field: draw(OFTEN[field])})
    records += [likely(draw, record) for record in draw(st.lists(MANY, max_size=3))]
    site = f.Site(id=1, name=draw(NASTY), code=draw(NASTY))
    return site_facts(*records, site, customer=draw(NASTY), customer_code=draw(NASTY))


def likely(draw, record: f.Record) -> f.Record:
    fields = {one.name for one in dataclasses.fields(record)} & set(OFTEN)
    return dataclasses.replace(record, **{name: draw(OFTEN[name]) for name in sorted(fields)})


@pytest.mark.parametrize("slug", KINDS)
@settings(SLOW, max_examples=30)
@given(any_site(), st.builds(Edition, st.dates(), NASTY))
def test_any_facts_give_a_configuration_that_its_program_accepts(slug, tmp_path, facts, edition):
    made = config(slug, facts, edition)
    accepted(slug, made, tmp_path)
    if slug in OBEYED:
        for line in obeyed(slug, made):
            assert re.fullmatch(OBEYED[slug], line), line
    assert CONFIGS[slug].packed(made, edition)
    for problem in made.problems:
        assert one_line(problem.text, 2000) == problem.text


@settings(SLOW, max_examples=60)
@given(any_site())
def test_what_is_lacking_is_the_same_when_nothing_is_written(facts):
    """The page tells it from one ground for all kinds; each file is made from a ground of its own."""
    ground = Ground(Plan(facts))
    for slug, kind in CONFIGS.items():
        assert tuple(kind.lacks(ground)) == config(slug, facts).problems, slug
