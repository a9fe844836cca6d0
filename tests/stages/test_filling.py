"""Placeholders: a site's values in the catalogue's words, and nothing else than values."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.record import facts as f
from planner.stages import words
from planner.stages.filling import MISSING, PLURALS, Filler, fields, parse, show, unknown
from tests.factories import make, site_facts

PLAIN = st.text(alphabet=st.characters(blacklist_characters="{}"), max_size=20)


def filled(template: str, *records, record=None, **values) -> str:
    return Filler(site_facts(*records, **values)).fill(parse(template), record)


def test_a_records_own_fields_with_their_units():
    host = make(f.Host, name="mill-h1", memory_gib=96.0, weight_kg=28.5, address="10.44.0.11")
    said = filled(
        "{host.name}: {host.memory_gib}, {host.weight_kg}, {host.address}", host, record=host
    )
    assert said == "mill-h1: 96 GiB, 28.5 kg, 10.44.0.11"


def test_fields_of_what_a_record_refers_to():
    network = make(f.Network, name="desktops", cidr="10.44.1.0/24")
    template = make(f.Template, name="front", network_id=network.id)
    group = make(f.SeatGroup, name="Reception", template_id=template.id)
    assert filled("{network.cidr}", network, template, record=template) == "10.44.1.0/24"
    assert (
        filled("{template.name} {network.name}", network, template, group, record=group)
        == f"front {MISSING}"
    )


def test_fields_of_the_site_the_directory_and_the_service():
    said = filled(
        "{site.people_count} {directory.domain} {service.entry_name} {site.on_site_date}",
        f.Site(people_count=36, on_site_date=dt.date(2027, 1, 14)),
        f.Directory(domain="corp.example"),
        f.Service(entry_name="desk.example"),
    )
    assert said == "36 corp.example desk.example Thu 14 Jan 2027"


def test_a_list_is_joined_and_leaves_out_what_is_unknown():
    hosts = [
        make(f.Host, name=name, address=address)
        for name, address in (("a", "10.0.0.1"), ("b", ""), ("c", "10.0.0.3"))
    ]
    assert filled("{hosts.name} / {hosts.address}", *hosts) == "a, b and c / 10.0.0.1 and 10.0.0.3"


def test_what_nobody_knows_is_said():
    host = make(f.Host)
    assert (
        filled("{host.name} at {host.address}", host, record=host) == f"unnamed host at {MISSING}"
    )
    assert filled("{hosts.name}; {pilot_users}; {service.address}; {port_lines}") == (
        f"Not known yet; {MISSING}; {MISSING}; {MISSING}"
    )


def test_what_nobody_knows_is_said_with_what_it_is():
    assert filled("Open {service.page:its page}.") == f"Open its page ({MISSING})."
    assert (
        filled("Open {service.page:its page}.", f.Service(entry_name="desk.example"))
        == "Open https://desk.example."
    )


def test_our_own_words_begin_a_sentence_with_a_capital_and_a_value_stays_as_typed():
    said = "{service.entry_name:the entry name} answers. {service.address:its address} too: {hosts.name:the hosts}"
    assert (
        filled(said)
        == f"The entry name ({MISSING}) answers. Its address ({MISSING}) too: the hosts ({MISSING})"
    )
    assert filled(
        said, f.Service(entry_name="desk.example", address="10.0.0.9"), make(f.Host, name="h")
    ) == ("desk.example answers. 10.0.0.9 too: h")


@pytest.mark.parametrize(
    ("number", "said"),
    [
        (0, "no rack units"),
        (1, "1 rack unit"),
        (2, "2 rack units"),
        (1234, "1,234 rack units"),
        (None, f"a number of rack units ({MISSING})"),
    ],
)
def test_what_is_counted_agrees_with_its_number(number, said):
    host = make(f.Host, rack_units=number)
    assert filled("in {host.rack_units:rack unit|rack units}", host, record=host) == f"in {said}"
    assert (
        filled("{host.rack_units:rack unit|rack units}.", host, record=host)
        == f"{said[0].upper()}{said[1:]}."
    )


def test_of_a_long_list_the_rest_is_counted():
    assert (
        filled("{hosts.name}", *(make(f.Host, name=f"h{n}") for n in range(6)))
        == "h0, h1, h2, h3, h4 and h5"
    )
    many = [make(f.Host, name=f"h{n}") for n in range(1010)]
    assert filled("{hosts.name}", *many) == "h0, h1, h2, h3, h4, h5 and 1,004 more"


def test_names_of_several_words_are_kept_apart():
    images = [make(f.Image, name="records"), make(f.Image, name="letters and tables")]
    assert filled("{images.name}", *images) == "records; letters and tables"


def test_what_several_records_say_alike_is_said_once_and_names_are_not():
    hosts = [make(f.Host, name="h", network_label="desktops-40") for _ in range(3)]
    assert filled("{hosts.name}: {hosts.network_label}", *hosts) == "h, h and h: desktops-40"


def test_numbers_that_are_names_have_no_comma():
    network, protocol = make(f.Network, vlan=1040), make(f.Protocol, tcp_port=3389)
    assert filled("{network.vlan}", network, record=network) == "1040"
    assert filled("{protocol.tcp_port}", protocol, record=protocol) == "3389"


@pytest.mark.parametrize(
    "typed",
    ["{host.address}", "{", "}", "{{", "{}", "{0}", "{service.address}", "%(x)s", "{host.name}"],
)
def test_braces_that_people_typed_do_nothing(typed):
    host = make(f.Host, name=typed, address="10.0.0.1")
    assert filled("<{host.name}>", host, record=host) == f"<{typed}>"


@given(name=st.text(max_size=30), before=PLAIN, after=PLAIN)
def test_whatever_people_type_comes_out_as_it_stands(name, before, after):
    host = f.Host(id=1, name=name)
    wanted = name or "unnamed host"
    assert filled(before + "{host.name}" + after, host, record=host) == before + wanted + after


@given(template=st.text(alphabet="{}.!:[]ab_ hostname", max_size=30))
def test_a_template_is_understood_or_refused(template):
    host = f.Host(id=1, name="h")
    try:
        text = parse(template)
    except ValueError:
        return
    if not unknown(text, "host"):
        assert isinstance(Filler(site_facts(host)).fill(text, host), str)


@pytest.mark.parametrize(
    "template",
    [
        "{host.name.upper}",
        "{host.name!r}",
        "{host.name:>9}",
        "{host[name]}",
        "{}",
        "{0}",
        "{host.}",
        "{.name}",
        "{host.name",
        "}",
        "{host.name:}{host.name:a|}",
        "{host.name:a|b|c}",
        "{host.name:1}",
        "{host.name:{site.name}}",
    ],
)
def test_nothing_but_a_field_is_understood(template):
    with pytest.raises(ValueError):
        parse(template)


@pytest.mark.parametrize(
    ("template", "kind"),
    [
        ("{host.__class__}", "host"),
        ("{host.kind}", "host"),
        ("{host.ref}", "host"),
        ("{host.label}", "host"),
        ("{host.name}", ""),
        ("{image.name}", "host"),
        ("{hosts.ref}", ""),
        ("{nothing}", ""),
        ("{template.first_name}", "host"),
    ],
)
def test_what_is_not_a_field_is_unknown(template, kind):
    assert unknown(parse(template), kind) == template


def test_every_field_of_every_kind_can_be_shown():
    for kind, cls in f.RECORDS.items():
        for name in fields(kind):
            assert show(cls(), name, site_facts()) is not None


def test_plurals_name_lists_of_the_facts():
    for name, kind in PLURALS.items():
        assert isinstance(getattr(site_facts(), name), tuple)
        one = f.RECORDS[kind](id=7)
        assert site_facts(**{name: (one,)}).find(one.ref) is one


# -- Words worked out ----------------------------------------------------------------------------


def of_site(word: str, *records) -> str:
    return words.OF_SITE[word](site_facts(*records))


def test_people_come_with_their_telephone():
    both = [
        make(f.Contact, name="A. Marsh", role="keys", phone="+43 1 555 0100"),
        make(f.Contact, name="B. Reed", role="keys"),
    ]
    assert (
        of_site("key_holders", *both, make(f.Contact, name="C. Low", role="pilot"))
        == "A. Marsh (+43 1 555 0100) and B. Reed"
    )


def test_servers_come_with_their_address():
    servers = [
        make(f.Server, name="dc-1", address="10.0.0.5", roles=("directory",)),
        make(f.Server, name="f", roles=("keys",)),
    ]
    assert of_site("directory_servers", *servers) == "dc-1 (10.0.0.5)"
    assert of_site("key_servers", *servers) == "f"


def test_hours_need_both_ends():
    site = f.Site(work_starts=dt.time(7, 30), work_ends=dt.time(17), work_days=("1", "5"))
    assert of_site("working_hours", site) == "07:30 to 17:00, Mon and Fri"
    assert of_site("working_hours", dataclasses.replace(site, work_days=())) == "07:30 to 17:00"
    for days, said in (
        ("12345", "Mon to Fri"),
        ("7651", "Mon, Fri, Sat and Sun"),
        ("67", "Sat and Sun"),
        ("9", ""),
    ):
        assert words._days(tuple(days)) == said
    assert of_site("working_hours", f.Site(work_starts=dt.time(7, 30))) == ""


def test_a_spare_host_carries_nothing():
    hosts = [make(f.Host, name="a"), make(f.Host, name="b", state="spare")]
    assert of_site("working_hosts", *hosts) == "a"


def test_the_hosts_power_is_the_sum_of_those_that_work():
    hosts = [
        make(f.Host, rated_watts=500.0),
        make(f.Host, rated_watts=750.0),
        make(f.Host, state="spare"),
    ]
    assert of_site("hosts_power", *hosts) == "1,250 W"
    assert of_site("hosts_power", *hosts, make(f.Host)) == of_site("hosts_power") == ""


def test_display_ports():
    both = [
        make(f.Protocol, name="RDP", tcp_port=3389, udp_port=3389),
        make(f.Protocol, name="own"),
    ]
    assert of_site("display_ports", *both) == "RDP 3389/tcp 3389/udp and own"


def test_most_in_all_adds_what_is_known():
    assert (
        of_site(
            "most_in_all", make(f.Template, most=30), make(f.Template), make(f.Template, most=6)
        )
        == "36"
    )
    assert of_site("most_in_all", make(f.Template)) == ""


@pytest.mark.parametrize(
    ("prefix", "digits", "name"),
    [
        ("mill-fd-", 3, "mill-fd-001"),
        ("m", 1, "m1"),
        ("", 3, ""),
        ("m", None, ""),
        ("m", 0, ""),
        ("m", 10**9, ""),
    ],
)
def test_the_first_desktops_name(prefix, digits, name):
    template = make(f.Template, name_prefix=prefix, name_digits=digits)
    assert show(template, "first_name", site_facts(template)) == name


def test_the_range_and_the_applications():
    network = make(f.Network, dhcp_first="10.0.0.5", dhcp_last="10.0.0.9")
    assert show(network, "dhcp_range", site_facts(network)) == "10.0.0.5 to 10.0.0.9"
    image = make(f.Image)
    app = make(f.Application, name="records", image_id=image.id)
    assert (
        show(image, "applications", site_facts(image, app, make(f.Application, name="other")))
        == "records"
    )


def test_an_images_names_places_and_wishes_are_its_own():
    image, other = make(f.Image, remove_or_add="Remove the card. "), make(f.Image)
    templates = [
        make(f.Template, image_id=one.id, name_prefix=prefix, profile_place=place)
        for one, prefix, place in (
            (image, "a-", "share"),
            (image, "b-", "share"),
            (other, "c-", "elsewhere"),
        )
    ]
    facts = site_facts(image, other, *templates)
    assert [show(image, name, facts) for name in ("prefixes", "profile_places", "wishes")] == [
        "a- and b-",
        "share",
        "Remove the card",
    ]
    assert show(make(f.Image), "prefixes", facts) == show(other, "wishes", facts) == ""
