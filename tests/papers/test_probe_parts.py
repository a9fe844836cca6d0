"""The parts of the probe's script, each against something outside: the standards' own examples, other libraries."""

from __future__ import annotations

import contextlib
import datetime as dt
import socket
import struct
import sys
import threading
import types

import dns.flags
import dns.message
import dns.rrset
import pytest
from cryptography import x509
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.engine.upkeep.certificates import covers
from planner.papers.probe.script import asking, certificate, clock, leases, line, names, reach
from planner.papers.probe.script.words import NoAnswer, clean, several
from tests.papers.probe_lab import Vouching

# -- names ---------------------------------------------------------------------------------------


def test_compressed_names_of_the_standards_example():
    """Source: RFC 1035, section 4.1.4: F.ISI.ARPA, FOO.F.ISI.ARPA, ARPA and the root in one message."""
    message = bytearray(93)
    message[20:32] = b"\x01F\x03ISI\x04ARPA\x00"
    message[40:46] = b"\x03FOO\xc0\x14"
    message[64:66] = b"\xc0\x1a"
    read = [names.read_name(bytes(message), at) for at in (20, 40, 64, 92)]
    assert read == [("f.isi.arpa", 32), ("foo.f.isi.arpa", 46), ("arpa", 66), ("", 93)]


@pytest.mark.parametrize("kind", ["A", "PTR", "SRV", "SOA"])
def test_questions_are_read_by_another_library(kind):
    """Source: dnspython reads what we ask."""
    read = dns.message.from_wire(
        names.dns_question(4711, "_ldap._tcp.corp.larkfield.example", kind)
    )
    assert read.id == 4711 and read.flags == dns.flags.RD and len(read.question) == 1
    assert read.question[0].to_text() == f"_ldap._tcp.corp.larkfield.example. IN {kind}"


def answer(question: bytes, *records: tuple, code: int = 0, cut: bool = False) -> bytes:
    """An answer that another library writes, with names compressed as it pleases."""
    made = dns.message.make_response(dns.message.from_wire(question))
    made.set_rcode(code)
    if cut:
        made.flags |= dns.flags.TC
    for owner, kind, *values in records:
        made.answer.append(dns.rrset.from_text(owner, 300, "IN", kind, *values))
    return made.to_wire()


def test_answers_that_another_library_wrote_are_read():
    """Source: dnspython writes them."""
    question = names.dns_question(1, "Desk.Larkfield.Example", "A")
    wire = answer(
        question,
        ("desk.larkfield.example.", "CNAME", "b.larkfield.example."),
        ("b.larkfield.example.", "A", "10.0.0.1", "10.0.0.2"),
        ("else.example.", "A", "10.9.9.9"),
    )
    assert sorted(names.read_answers(wire, 1, question).of("desk.larkfield.example.", "A")) == [
        "10.0.0.1",
        "10.0.0.2",
    ]
    question = names.dns_question(1, "_x._tcp.example", "SRV")
    wire = answer(question, ("_x._tcp.example.", "SRV", "5 10 389 dc-1.example."))
    assert names.read_answers(wire, 1, question).of("_x._tcp.example", "SRV") == [
        (5, 10, 389, "dc-1.example")
    ]
    question = names.dns_question(1, names.reverse_name("10.45.1.11"), "PTR")
    wire = answer(question, ("11.1.45.10.in-addr.arpa.", "PTR", "h1.example."))
    assert names.read_answers(wire, 1, question).of("11.1.45.10.IN-ADDR.ARPA", "PTR") == [
        "h1.example"
    ]
    assert names.read_answers(answer(question, code=3), 1, question).code == 3


def test_an_address_of_a_size_that_none_has_is_left_out():
    """It was handed on as ``None``, and to connect to that is to connect to this machine itself."""
    question = names.dns_question(1, "desk.example", "A")
    whole = answer(question, ("desk.example.", "A", "10.0.0.1"))
    broken = whole[:-6] + struct.pack("!H", 3) + whole[-4:-1]
    assert names.read_answers(broken, 1, question).of("desk.example", "A") == []


def test_names_in_a_circle_end():
    question = names.dns_question(1, "a.example", "A")
    wire = answer(
        question, ("a.example.", "CNAME", "b.example."), ("b.example.", "CNAME", "a.example.")
    )
    assert names.read_answers(wire, 1, question).of("a.example", "A") == []
    with pytest.raises(ValueError):
        names.read_name(b"\xc0\x00", 0)


@pytest.mark.parametrize("change", [(0, 9), (2, 0), (15, ord("z")), (25, 28)])
def test_an_answer_to_another_question_is_none(change):
    """Another number, no answer at all, another name, another type."""
    question = names.dns_question(1, "desk.example", "A")
    wire = bytearray(answer(question, ("desk.example.", "A", "10.0.0.1")))
    assert names.read_answers(bytes(wire), 1, question).of("desk.example", "A") == ["10.0.0.1"]
    at, value = change
    wire[len(question) - 4 + 1 if at == 25 else at] = value
    with pytest.raises(ValueError):
        names.read_answers(bytes(wire), 1, question)


@settings(max_examples=300, deadline=None)
@given(
    st.binary(max_size=80), st.lists(st.tuples(st.integers(0, 70), st.integers(0, 255)), max_size=4)
)
def test_broken_answers_are_refused_and_never_more(noise, changes):
    question = names.dns_question(1, "desk.example", "A")
    wire = bytearray(
        answer(question, ("desk.example.", "CNAME", "x.example."), ("x.example.", "A", "10.0.0.1"))
    )
    for at, value in changes:
        wire[at % len(wire)] = value
    for message in (bytes(wire), bytes(wire[: len(noise)]), noise):
        with contextlib.suppress(ValueError):
            assert names.read_answers(message, 1, question).records is not None


@pytest.mark.parametrize("name", ["a..b", "x" * 64, ".".join(["abcdefgh"] * 40), "\ud800.example"])
def test_what_is_no_name_is_not_asked_for(name):
    with pytest.raises(NoAnswer, match="no name"):
        names.dns_ask("127.0.0.1", name, "A", 0.2, port=9)


class NameServer:
    """Answers on this machine alone, first over UDP, then over TCP where the answer is cut."""

    def __init__(self, first: bytes = b"", cut: bool = True):
        self.tcp = socket.create_server(("127.0.0.1", 0))
        self.port = self.tcp.getsockname()[1]
        self.udp = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self.udp.bind(("127.0.0.1", self.port))
        self.first, self.cut = first, cut
        threading.Thread(target=self._udp, daemon=True).start()
        threading.Thread(target=self._tcp, daemon=True).start()

    def _udp(self):
        question, asker = self.udp.recvfrom(512)
        if self.first:
            self.udp.sendto(self.first, asker)
        records = () if self.cut else (("desk.example.", "A", "10.0.0.1"),)
        self.udp.sendto(answer(question, *records, cut=self.cut), asker)

    def _tcp(self):
        with self.tcp.accept()[0] as met:
            question = met.recv(512)[2:]
            wire = answer(question, ("desk.example.", "A", "10.0.0.2"))
            met.sendall(struct.pack("!H", len(wire)) + wire[:9])
            met.sendall(wire[9:])


@pytest.mark.parametrize(("cut", "wanted"), [(True, "10.0.0.2"), (False, "10.0.0.1")])
def test_a_cut_answer_is_asked_for_again_over_tcp(cut, wanted):
    """Source: RFC 7766, section 5: and what does not answer the question is passed over."""
    served = NameServer(first=b"nothing of ours", cut=cut)
    assert names.dns_ask("127.0.0.1", "desk.example", "A", 4, port=served.port).of(
        "desk.example", "A"
    ) == [wanted]
    served.udp.close(), served.tcp.close()


def test_nobody_answers_for_names():
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as silent:
        silent.bind(("127.0.0.1", 0))
        port = silent.getsockname()[1]
        with pytest.raises(NoAnswer) as seen:
            names.dns_ask("127.0.0.1", "desk.example", "A", 0.2, port=port)
        assert seen.value.silent
    with pytest.raises(NoAnswer) as seen:
        names.dns_ask("127.0.0.1", "desk.example", "A", 0.2, port=port)
    assert seen.value.refused


# -- clocks --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("day", "seconds"),
    [
        ((1970, 1, 1), 2208988800),
        ((1976, 1, 1), 2398291200),
        ((1980, 1, 1), 2524521600),
        ((1983, 5, 1), 2629584000),
    ],
)
def test_seconds_since_1900(day, seconds):
    """Source: RFC 868, its examples of seconds since 1900."""
    since = dt.datetime(*day, tzinfo=dt.UTC).timestamp()
    assert clock.to_stamp(since) == struct.pack("!2I", seconds, 0)
    assert clock.from_stamp(struct.pack("!2I", seconds, 0)) == since


def test_the_count_begins_again_in_2036():
    """Source: RFC 5905, figure 4 (from memory): 8 February 2036 is second 63,104 of the next count."""
    stamp = struct.pack("!2I", 63104, 2**31)
    assert clock.from_stamp(stamp) == dt.datetime(2036, 2, 8, tzinfo=dt.UTC).timestamp() + 0.5
    assert clock.to_stamp(clock.from_stamp(stamp)) == stamp


def told(sent: bytes, came: float, went: float, *, head=0x24, stratum=2, word=b"\0\0\0\0") -> bytes:
    return (
        bytes([head, stratum, 6, 236])
        + bytes(8)
        + word
        + bytes(8)
        + sent
        + clock.to_stamp(came)
        + clock.to_stamp(went)
    )


def test_offset_and_delay_by_the_formula():
    """Source: RFC 4330, section 5: d = (T4 - T1) - (T3 - T2), t = ((T2 - T1) + (T3 - T4)) / 2.

    Sent at 1000, received there at 1402, sent there at 1403, received at 1007: d = 6, t = (402 + 396) / 2 = 399.
    """
    sent = clock.to_stamp(1000.0)
    found = clock.read_clock(told(sent, 1402.0, 1403.0), sent, 1000.0, 1007.0)
    assert (found.offset, found.delay, found.stratum) == (399.0, 6.0, 2)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"head": 0xE4}, "not set"),
        ({"stratum": 16}, "not set"),
        ({"stratum": 0, "word": b"RATE"}, "RATE"),
        ({"head": 0x23}, "no answer"),
        ({"head": 0x04}, "no answer"),
    ],
)
def test_answers_that_must_not_be_used(changed, said):
    """Source: RFC 4330, section 5: a leap indicator of 3, a stratum of 0 or above 15, a wrong mode."""
    sent = clock.to_stamp(1000.0)
    with pytest.raises(NoAnswer, match=said):
        clock.read_clock(told(sent, 1000.0, 1000.0, **changed), sent, 1000.0, 1001.0)
    with pytest.raises(NoAnswer):
        clock.read_clock(
            told(clock.to_stamp(999.0), 1.0, 1.0), sent, 1000.0, 1001.0
        )  # somebody else's question
    with pytest.raises(NoAnswer):
        clock.read_clock(b"short", sent, 1000.0, 1001.0)


# -- certificates --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def vouching(tmp_path_factory):
    return Vouching(tmp_path_factory.mktemp("certificates"))


@pytest.mark.parametrize(
    "called",
    [
        ("desk.larkfield.example",),
        ("*.larkfield.example", "10.45.1.30", "a.example"),
        ("2001:db8::1",),
        (),
    ],
)
@pytest.mark.parametrize("days", [30, 200, 365 * 30])
def test_certificates_are_read_as_another_library_reads_them(vouching, called, days):
    """Source: the cryptography library; a day after 2049 is written in four digits of the year (RFC 5280)."""
    made = x509.load_pem_x509_certificate(vouching.pair("read", *called, days=days).read_bytes())
    from cryptography.hazmat.primitives import hashes, serialization

    found = certificate.read_certificate(made.public_bytes(serialization.Encoding.DER))
    assert found.names == list(called)
    assert found.begins == made.not_valid_before_utc.timestamp()
    assert found.ends == made.not_valid_after_utc.timestamp()
    assert found.last_day == made.not_valid_after_utc.date().isoformat()
    assert found.digest == made.fingerprint(hashes.SHA256()).hex()


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=60))
def test_what_is_no_certificate_is_refused_and_never_more(noise):
    with pytest.raises(NoAnswer):
        certificate.read_certificate(noise)


LABELS = st.sampled_from(
    [
        "a",
        "desk",
        "*",
        "larkfield",
        "example",
        "xn--bcher-kva",
        "b\u00fccher",
        "",
        "x_y",
        "10",
        "d*",
    ]
)
NAMES = st.lists(LABELS, min_size=1, max_size=4).map(".".join) | st.sampled_from(
    ["10.0.0.1", "[2001:db8::1]", "2001:db8::1", "Desk.Example.", " desk.example "]
)


@settings(max_examples=500, deadline=None)
@given(NAMES, NAMES)
def test_the_script_judges_names_as_the_engine_does(pattern, name):
    """Source: RFC 9525, sections 6.3 and 6.4, checked for the engine in tests/references."""
    assert certificate.certificate_covers(pattern, name) == covers(pattern, name)


# -- leases --------------------------------------------------------------------------------------


def test_a_discover_is_made_as_the_standard_says_and_asks_for_nothing_more():
    """Source: RFC 2131, section 2 (figure 1) and table 5; RFC 2132, sections 9.6 and 9.8."""
    message = leases.discover_message(b"\1\2\3\4", bytes.fromhex("020000000001"))
    assert (
        len(message) >= 300 and message[:4] == bytes([1, 1, 6, 0]) and message[4:8] == b"\1\2\3\4"
    )
    assert message[10:12] == b"\x80\0"  # answer by broadcast
    assert message[12:28] == bytes(16) and message[28:34] == bytes.fromhex("020000000001")
    assert message[236:240] == bytes([99, 130, 83, 99]) and message[240:243] == bytes([53, 1, 1])
    options = message[243:].rstrip(b"\0")
    assert (
        options[0] == 55
        and options[-1] == 255
        and 50 not in options[2:-1]
        and 80 not in options[2:-1]
    )


def offer(kind: int = 2, **changed: bytes) -> bytes:
    parts = {"number": b"\1\2\3\4", "hardware": bytes.fromhex("020000000001"), **changed}
    head = bytes([2, 1, 6, 0]) + parts["number"] + bytes(8) + bytes([10, 45, 40, 77]) + bytes(8)
    options = bytes(
        [
            53,
            1,
            kind,
            54,
            4,
            10,
            45,
            1,
            5,
            0,
            51,
            4,
            0,
            1,
            81,
            128,
            6,
            8,
            10,
            45,
            1,
            5,
            10,
            45,
            1,
            6,
            255,
        ]
    )
    return head + parts["hardware"].ljust(16, b"\0") + bytes(192) + leases.COOKIE + options


def test_an_offer_is_read():
    found = leases.read_offer(offer(), b"\1\2\3\4", bytes.fromhex("020000000001"))
    assert (found.address, found.server, found.seconds) == ("10.45.40.77", "10.45.1.5", 86400)
    assert found.names == ("10.45.1.5", "10.45.1.6")


@pytest.mark.parametrize(
    "message", [offer(5), offer(number=b"\0\0\0\0"), offer(hardware=bytes(6)), b"", offer()[:239]]
)
def test_what_is_no_offer_to_us_is_passed_over(message):
    assert leases.read_offer(message, b"\1\2\3\4", bytes.fromhex("020000000001")) is None


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=60))
def test_broken_offers_are_never_more_than_passed_over(noise):
    leases.read_offer(offer()[:240] + noise, b"\1\2\3\4", bytes.fromhex("020000000001"))


# -- what systems print (as their programs do; written from memory) --------------------------------


def test_lines_as_linux_prints_them():
    said = (
        "1: lo    inet 127.0.0.1/8 scope host lo\\       valid_lft forever preferred_lft forever\n"
        "2: eth0    inet 10.45.40.77/24 brd 10.45.40.255 scope global dynamic eth0\\   valid_lft 86000sec\n"
        "3: tun0    inet 10.8.0.2 peer 10.8.0.1/32 scope global tun0\\   valid_lft forever preferred_lft forever\n"
    )
    found = [(one.address, one.prefix, one.leased, one.device) for one in line.lines_of_ip(said)]
    assert found == [
        ("127.0.0.1", 8, False, "lo"),
        ("10.45.40.77", 24, True, "eth0"),
        ("10.8.0.2", 32, False, "tun0"),
    ]
    assert line.names_of_list(
        "# by hand\nnameserver 10.45.1.5\n nameserver 10.45.1.6 # two\nsearch x\n"
    ) == (
        "10.45.1.5",
        "10.45.1.6",
    )


def test_lines_as_macos_prints_them():
    said = (
        "lo0: flags=8049<UP> mtu 16384\n\tinet 127.0.0.1 netmask 0xff000000\n"
        "en0: flags=8863<UP> mtu 1500\n\tether 02:00:00:00:00:01\n"
        "\tinet 10.45.20.141 netmask 0xffffff00 broadcast 10.45.20.255\n"
    )
    [_, found] = line.lines_of_ifconfig(said)
    assert (found.address, found.prefix, found.device, found.mac) == (
        "10.45.20.141",
        24,
        "en0",
        "02:00:00:00:00:01",
    )
    packet = (
        "op = BOOTREPLY\nyiaddr = 10.45.20.141\noptions:\nserver_identifier (ip): 10.45.1.5\n"
        "lease_time (uint32): 0x15180\ndomain_name_server (ip_mult): {10.45.1.5, 10.45.1.6}\nend (none):\n"
    )
    line.add_packet(found, packet)
    assert (found.leased, found.server, found.seconds) == (True, "10.45.1.5", 86400)
    assert found.names == ("10.45.1.5", "10.45.1.6")
    line.add_packet(found, "")
    assert found.leased is False


WINDOWS_VALUES = {
    "by DHCP": {
        "EnableDHCP": 1,
        "DhcpIPAddress": "10.45.20.141",
        "DhcpSubnetMask": "255.255.255.0",
        "DhcpServer": "10.45.1.5",
        "DhcpNameServer": "10.45.1.5 10.45.1.6",
        "Lease": 86400,
        "NameServer": "",
    },
    "by hand": {
        "EnableDHCP": 0,
        "IPAddress": ["10.45.1.90"],
        "SubnetMask": ["255.255.255.0"],
        "NameServer": "10.45.1.5,10.45.1.6",
        "DhcpIPAddress": "0.0.0.0",
    },
    "unused": {"EnableDHCP": 1, "DhcpIPAddress": "0.0.0.0"},
}


def test_lines_as_windows_keeps_them(monkeypatch):
    class Key:
        def __init__(self, at):
            self.at = at

        def __enter__(self):
            return self

        def __exit__(self, *_):
            pass

    kept = list(WINDOWS_VALUES.values())
    registry = types.ModuleType("winreg")
    registry.HKEY_LOCAL_MACHINE = None
    registry.OpenKey = lambda _, at: Key(at)
    registry.EnumKey = lambda _, number: number
    registry.QueryInfoKey = lambda key: (
        (len(kept), 0, 0) if isinstance(key.at, str) else (0, len(kept[key.at]), 0)
    )
    registry.EnumValue = lambda key, at: (*list(kept[key.at].items())[at], 1)
    monkeypatch.setitem(sys.modules, "winreg", registry)
    monkeypatch.setattr(line.sys, "platform", "win32")
    found = [
        (one.address, one.prefix, one.leased, one.server, one.seconds, one.names)
        for one in line.windows_lines()
    ]
    names_ = ("10.45.1.5", "10.45.1.6")
    assert found == [
        ("10.45.20.141", 24, True, "10.45.1.5", 86400, names_),
        ("10.45.1.90", 24, False, "", None, names_),
    ]


@pytest.mark.parametrize(
    ("said", "found"),
    [
        ("? (10.45.1.11) at 2:0:0:0:0:1 on en0 ifscope [ethernet]", "02:00:00:00:00:01"),
        ("? (10.45.1.11) at (incomplete) on en0 ifscope [ethernet]", ""),
        ("  10.45.1.11            02-00-00-00-00-01     dynamisch ", "02:00:00:00:00:01"),
        ("  10.45.1.255           ff-ff-ff-ff-ff-ff     static", ""),
        ("  10.45.1.110           02-00-00-00-00-01     dynamic", ""),
        ("No ARP Entries Found.", ""),
    ],
)
def test_neighbours_as_systems_print_them(said, found):
    address = "10.45.1.255" if ".255" in said else "10.45.1.11"
    assert reach.neighbour_in_words(f"Interface: 10.45.1.90 --- 0x4\n{said}\n", address) == found


def test_neighbours_of_the_kernels_table():
    table = (
        "IP address       HW type     Flags       HW address            Mask     Device\n"
        "10.45.1.11       0x1         0x2         02:00:00:00:00:01     *        lan\n"
        "10.45.1.12       0x1         0x0         00:00:00:00:00:00     *        lan\n"
    )
    assert [reach.neighbour_in_table(table, f"10.45.1.1{n}") for n in (1, 2, 3)] == [
        "02:00:00:00:00:01",
        "",
        "",
    ]


def test_the_internet_checksum():
    """Source: RFC 1071, section 3: 0001 f203 f4f5 f6f7 sums to ddf2, whose complement is sent."""
    assert reach.echo_sum(bytes.fromhex("0001f203f4f5f6f7")) == 0xFFFF ^ 0xDDF2


@pytest.mark.parametrize(
    ("system", "words", "said", "found"),
    [
        (
            "win32",
            ["ping", "-n", "1", "-w", "2000"],
            ("Antwort von 10.0.0.1: Bytes=32 Zeit<1ms TTL=64", True),
            True,
        ),
        (
            "win32",
            ["ping", "-n", "1", "-w", "2000"],
            ("Antwort von 10.0.0.9: Zielhost nicht erreichbar.", True),
            False,
        ),
        ("darwin", ["ping", "-n", "-c", "1", "-t", "2"], ("", True), True),
        ("linux", ["ping", "-n", "-c", "1", "-W", "2"], ("", False), False),
        ("linux", ["ping", "-n", "-c", "1", "-W", "2"], ("", None), None),
    ],
)
def test_the_systems_own_ping(monkeypatch, system, words, said, found):
    """Where we may send none of our own. On one system the exit code says yes though a neighbour said no."""
    asked = []
    monkeypatch.setattr(reach, "_own_ping", lambda *_: None)
    monkeypatch.setattr(reach.sys, "platform", system)
    monkeypatch.setattr(
        reach, "system_said", lambda command, seconds: asked.append(command) or said
    )
    assert reach.ping("10.0.0.1", 2.0) is found
    assert asked == [[*words, "10.0.0.1"]]


# -- ports and words -----------------------------------------------------------------------------


def test_a_port_is_open_or_refused():
    with socket.create_server(("127.0.0.1", 0)) as served:
        port = served.getsockname()[1]
        assert reach.knock("127.0.0.1", port, 2)[0] == reach.OPEN
    assert reach.knock("127.0.0.1", port, 2)[0] == reach.REFUSED
    assert reach.own_address_towards("127.0.0.1") == "127.0.0.1"


@given(st.text(max_size=2000))
def test_what_is_shown_is_one_line_of_letters(text):
    shown = clean(text)
    assert len(shown) <= 300 and (shown == "" or shown.isprintable()) and shown == clean(shown)


def test_several():
    assert (
        several(range(3)) == "0, 1, 2"
        and several([]) == "nothing"
        and several("abcd", 2) == "a, b and 2 more"
    )


# -- asked once ----------------------------------------------------------------------------------


def test_whoever_waits_for_a_look_hears_that_it_failed(monkeypatch):
    """The second question was given ``None`` for a clock, as if somebody had told it."""

    def fails(server, patience):
        raise RuntimeError("out of lines")

    monkeypatch.setattr(asking, "clock_ask", fails)
    here = asking.Standing(line.Line("10.45.1.90"))
    for _ in range(2):
        with pytest.raises(RuntimeError, match="out of lines"):
            here.clock_of("10.45.1.11")


def test_tls_without_a_certificate_is_said(monkeypatch):
    class Met:
        def __enter__(self):
            return self

        def __exit__(self, *_):
            pass

        def getpeercert(self, binary_form):
            return None

    monkeypatch.setattr(certificate.ssl.SSLContext, "wrap_socket", lambda *_, **__: Met())
    with socket.create_server(("127.0.0.1", 0)) as served:
        port = served.getsockname()[1]
        with pytest.raises(NoAnswer, match="without a certificate"):
            certificate.certificate_at("127.0.0.1", port, "desk.example", 1)
