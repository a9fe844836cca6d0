"""Clocks: who follows whom. Random chains against a graph library: tests/references."""

from __future__ import annotations

import pytest

from planner.engine.upkeep.clocks import drift_days
from planner.record import facts as f
from tests.factories import make, plan_of

LAN = f.Network(id=1, name="management", cidr="10.44.1.0/24", gateway="10.44.1.1")
DC = f.Server(id=1, name="dc-1", address="10.44.1.5", roles=("directory", "dns", "time"))
DC2 = f.Server(id=2, name="dc-2", address="10.44.1.6", roles=("directory", "dns"))
FILES = f.Server(id=3, name="files-1", address="10.44.1.7", roles=("files",))
RADIO = f.Device(id=1, name="radio clock", address="10.44.1.9")
OUTSIDE = "ntp.example.net"


def domain(source=OUTSIDE):
    return f.Directory(directory_kind="domain", domain="corp.larkfield.example", time_source=source)


def host(source, name="h1", **values):
    return make(f.Host, name=name, time_source=source, **values)


def clocks(*records):
    return plan_of(LAN, DC, DC2, FILES, RADIO, *records).clocks


def roots(*records):
    """What each taker's chains end at, the directory first."""
    return [[(root.kind, root.label) for root in taker.roots] for taker in clocks(*records).takers]


def test_all_end_at_one_root():
    """The usual way: hosts ask a directory server, the directory a clock outside."""
    found = clocks(domain(), host("10.44.1.5"), host("dc-2.corp.larkfield.example"))
    assert [taker.sources[0].kind for taker in found.takers] == [
        "outside",
        "directory",
        "directory",
    ]
    assert {taker.roots[0].label for taker in found.takers} == {OUTSIDE}
    assert found.one_root is True and found.apart == () and found.usual.ref.kind == "directory"


@pytest.mark.parametrize(
    ("text", "kind", "label"),
    [
        ("10.44.1.9", "device", "radio clock"),
        ("Radio Clock", "device", "radio clock"),
        ("10.44.1.1", "gateway", "10.44.1.1"),
        ("10.44.1.7", "server", "files-1"),
        ("10.44.1.77", "unlisted", "10.44.1.77"),
        ("clock.corp.larkfield.example", "unlisted", "clock.corp.larkfield.example"),
        ("NTP.example.net.", "outside", OUTSIDE),
        ("192.0.2.5", "outside", "192.0.2.5"),
        ("2001:db8::5", "outside", "2001:db8::5"),
        ("the firewall", "outside", "the firewall"),
    ],
)
def test_what_a_text_names(text, kind, label):
    (source,) = clocks(domain(), host(text)).takers[1].sources
    assert (source.kind, source.label) == (kind, label)
    assert source.timekeeper is (label != "files-1")


def test_the_domains_own_name_is_the_directory():
    assert roots(domain(), host("corp.larkfield.example"))[1] == [("outside", OUTSIDE)]


def test_an_appliance_is_known_by_its_address():
    broker = make(f.Appliance, name="broker-1", address="10.44.1.31")
    assert roots(domain(), broker, host("10.44.1.31"))[1] == [("device", "broker-1")]


def test_several_sources_in_one_text():
    found = clocks(domain("ntp.example.net, 192.0.2.5"), host("10.44.1.5; 10.44.1.9"))
    assert [len(taker.sources) for taker in found.takers] == [2, 2]
    assert [root.label for root in found.takers[1].roots] == ["radio clock", "192.0.2.5", OUTSIDE]
    assert found.one_root is True  # they share the two outside


def test_hosts_that_end_elsewhere():
    found = clocks(
        domain(), host("10.44.1.5", "h1"), host("10.44.1.9", "h2"), host("time.example.org", "h3")
    )
    assert [taker.label for taker in found.apart] == ["h2", "h3"] and found.one_root is False


def test_without_a_domain_the_most_hosts_are_right():
    own = f.Directory(directory_kind="own-accounts", time_source="ignored.example.net")
    found = clocks(own, host(OUTSIDE, "h1"), host("10.44.1.9", "h2"), host(OUTSIDE, "h3"))
    assert [taker.label for taker in found.takers] == ["h1", "h2", "h3"]
    assert [taker.label for taker in found.apart] == ["h2"] and found.usual.label == "h1"


def test_a_directory_that_follows_its_own_server_ends_inside():
    assert roots(domain("dc-1"), host("10.44.1.6")) == [[("own", "dc-1")], [("own", "dc-1")]]
    assert roots(domain("corp.larkfield.example"))[0] == [("own", "corp.larkfield.example")]


def test_a_circle_through_a_host():
    """The host asks the directory, whose clock is the host's."""
    found = clocks(domain("h1"), host("10.44.1.5"))
    assert [taker.roots for taker in found.takers] == [(), ()]
    assert found.takers[1].loop == ("h1", "corp.larkfield.example", "h1")
    assert found.takers[0].loop == ("corp.larkfield.example", "h1", "corp.larkfield.example")
    assert found.one_root is None and found.usual is None


def test_a_way_out_of_the_circle_ends_it():
    found = clocks(domain(f"h1, {OUTSIDE}"), host("10.44.1.5"))
    assert [taker.loop for taker in found.takers] == [(), ()] and found.one_root is True


def test_a_host_that_asks_itself_and_one_that_asks_it():
    found = clocks(domain(), host("h1", "h1"), host("h1", "h2"))
    assert [taker.loop for taker in found.takers] == [(), ("h1", "h1"), ()]
    assert found.takers[2].roots == ()


def test_what_nobody_typed():
    found = clocks(domain(""), host(" "), host("10.44.1.5"))
    assert [(taker.known, taker.roots, taker.loop) for taker in found.takers] == [
        (False, (), ()),
        (False, (), ()),
        (True, (), ()),
    ]
    assert found.one_root is None and found.apart == ()
    assert plan_of(f.Directory(directory_kind="own-accounts")).clocks.takers == ()


def test_spare_hosts_follow_nobody_but_may_be_followed():
    found = clocks(domain(), host(OUTSIDE, "cupboard", state="spare"), host("cupboard", "h2"))
    assert [taker.label for taker in found.takers] == ["corp.larkfield.example", "h2"]
    assert found.takers[1].roots[0].label == OUTSIDE


def test_one_taker_by_its_record():
    one = host(OUTSIDE)
    found = clocks(domain(), one)
    assert found.of(one.ref).label == "h1" and found.of(f.Ref("host", 999)) is None


def test_drift():
    """Arithmetic: 50 parts per million are 4.32 s a day; 300 s after 69.4 days."""
    assert drift_days(5, 50) == pytest.approx(300 / 4.32)
    assert drift_days(5, 0) is None and drift_days(float("nan"), 50) is None
    assert clocks(domain()).drift_days == pytest.approx(69.44, abs=0.01)


def test_a_thousand_hosts_in_a_row_and_all_asking_all():
    row = [host(f"n{number + 1}", f"n{number}") for number in range(1000)]
    found = clocks(domain(), *row)
    assert (
        found.takers[1].roots[0].label == "n1000"
        and found.takers[-1].roots == found.takers[1].roots
    )
    asking = " ".join(f"n{number}" for number in range(1000))
    assert (
        len(
            clocks(domain(), *[host(asking, f"n{number}") for number in range(1000)])
            .takers[1]
            .sources
        )
        == 8
    )
