"""Names against RFC 1035, 1123 and 4514, the idna library's length checks, and the cryptography library's parser."""

from __future__ import annotations

import idna
import pytest
from cryptography import x509
from hypothesis import given
from hypothesis import strategies as st

from planner.engine.names import distinguished_name, dns_names

# -- Names of machines ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "faults"),
    [
        ("desk", ()),
        ("4desk", ()),  # Source: RFC 1123 §2.1: the first character may be a digit
        ("desk-1.example.com", ()),
        ("desk-1.example.com.", ()),
        ("DESK.EXAMPLE.COM", ()),
        (
            "desk_1",
            ("characters",),
        ),  # Source: RFC 952, ASSUMPTIONS 1: letters, digits, minus sign, period
        ("-desk", ("hyphen",)),
        ("desk-", ("hyphen",)),  # Source: RFC 952: the last character is no minus sign
        ("desk..example", ("label-empty",)),
        (".", ("empty",)),
        ("192.0.2.7", ("address",)),  # Source: RFC 1123 §2.1: a name is told from a dotted number
        ("desk.42", ("all-digits",)),  # Source: RFC 1123 §2.1: the highest label is alphabetic
        ("bücher.example", ("characters",)),
        ("xn--bcher-kva.example", ()),  # Source: the idna package: its ASCII form
    ],
)
def test_host_names(name, faults):
    assert dns_names.host_name_faults(name) == faults


LABELS = st.sampled_from([1, 2, 62, 63, 64, 70]).map("a".__mul__)


@given(st.lists(LABELS, min_size=1, max_size=6))
def test_lengths_as_the_library_counts_them(labels):
    """Source: RFC 1035 §2.3.4: 63 octets a label, 255 a name; idna counts a name without its root as 253."""
    name = ".".join(labels)
    try:
        idna.encode(name, strict=True)
        too_long = False
    except idna.IDNAError as error:
        assert "too long" in str(error)
        too_long = True
    assert bool({"long", "label-long"} & set(dns_names.host_name_faults(name))) == too_long


def test_the_longest_name():
    """Source: RFC 1035 §3.1: on the wire each label has a length octet before it, and a zero octet ends the name."""
    labels = ["a" * 63, "b" * 63, "c" * 63, "d" * 61]
    name = ".".join(labels)
    assert sum(1 + len(label) for label in labels) + 1 == 255 and len(name) == 253
    assert dns_names.host_name_faults(name) == ()
    assert dns_names.host_name_faults(name + "d") == ("long",)


@pytest.mark.parametrize(
    ("name", "faults"),
    [
        ("a" * 15, ()),
        ("a" * 16, ("long",)),  # Source: MS-NBTE §1.8: 15 bytes and one for the kind
        ("123", ("all-digits",)),
        ("123a", ()),  # Source: knowledge-base article 909264: not all digits
        ("a.b", ("characters",)),
        ("", ("empty",)),  # Source: article 909264: no period
    ],
)
def test_computer_names(name, faults):
    assert dns_names.computer_name_faults(name) == faults


@pytest.mark.parametrize(
    ("name", "faults"),
    [
        ("CORP", ()),
        ("A" * 15, ()),
        ("A" * 16, ("long",)),
        ("", ("empty",)),
        # Source: article 909264: backslash, slash, colon, star, question mark, quote, angle brackets, bar, no period
        *((f"CO{sign}RP", ("characters",)) for sign in '\\/:*?"<>|.'),
    ],
)
def test_netbios_names(name, faults):
    assert dns_names.netbios_faults(name) == faults


# -- Distinguished names --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "wanted"),
    # Source: RFC 4514 §4, the examples
    [
        (
            "UID=jsmith,DC=example,DC=net",
            ((("UID", "jsmith"),), (("DC", "example"),), (("DC", "net"),)),
        ),
        (
            "OU=Sales+CN=J.  Smith,DC=example,DC=net",
            ((("OU", "Sales"), ("CN", "J.  Smith")), (("DC", "example"),), (("DC", "net"),)),
        ),
        (
            'CN=James \\"Jim\\" Smith\\, III,DC=example,DC=net',
            ((("CN", 'James "Jim" Smith, III'),), (("DC", "example"),), (("DC", "net"),)),
        ),
        (
            "CN=Before\\0dAfter,DC=example,DC=net",
            ((("CN", "Before\rAfter"),), (("DC", "example"),), (("DC", "net"),)),
        ),
        ("1.3.6.1.4.1.1466.0=#04024869", ((("1.3.6.1.4.1.1466.0", "#04024869"),),)),
        ("CN=Lu\\C4\\8Di\\C4\\87", ((("CN", "Lučić"),),)),
        ("", ()),
    ],
)
def test_examples_of_the_standard(text, wanted):
    assert distinguished_name.parse(text) == wanted


@pytest.mark.parametrize(
    "text",
    # Source: RFC 4514 §3, the grammar: what it does not produce
    [
        "OU",
        "OU=a,",
        ",OU=a",
        "OU=a,,DC=b",
        "=a",
        "1=a",
        "01.2=a",
        "O U=a",
        "OU=a b ",
        "OU= a",
        'OU="a"',
        "OU=a;b",
        "OU=a<b",
        "OU=a\\",
        "OU=a\\x",
        "OU=\\C4",
        "OU=#",
        "OU=#0",
        "OU=#04g",
        "OU=#04 ",
        "OU=a\0",
        "Desktops/corp",
        "-a=b",
    ],
)
def test_what_the_grammar_refuses(text):
    assert distinguished_name.parse(text) is None


def test_a_space_after_a_comma_is_let_pass():
    """Source: RFC 4514 §3 lets a reader take other forms; people type this one."""
    assert distinguished_name.parse("OU=a, DC=b") == distinguished_name.parse("OU=a,DC=b")


VALUES = st.text(alphabet='aZ9 é"+,;<>\\#=.', min_size=1, max_size=8)
KINDS = st.sampled_from(
    [
        ("OU", x509.NameOID.ORGANIZATIONAL_UNIT_NAME),
        ("CN", x509.NameOID.COMMON_NAME),
        ("DC", x509.NameOID.DOMAIN_COMPONENT),
    ]
)
PARTS = st.lists(
    st.tuples(KINDS, VALUES), min_size=1, max_size=2, unique_by=lambda pair: pair[0][0]
)


@given(st.lists(PARTS, min_size=1, max_size=4))
def test_what_another_library_writes_is_read(parts):
    """The cryptography library writes a name by RFC 4514; reading it gives its parts back."""
    name = x509.Name(
        [
            x509.RelativeDistinguishedName(
                [x509.NameAttribute(oid, value) for (_, oid), value in part]
            )
            for part in parts
        ]
    )
    read = distinguished_name.parse(name.rfc4514_string())
    wanted = [{(kind, value) for (kind, _), value in part} for part in reversed(parts)]
    assert [set(part) for part in read] == wanted


TYPED = st.text(alphabet='OUDCN=,+\\ #"a1;é', max_size=10) | st.builds(
    "OU={},DC={}".format,
    st.text(alphabet='a=,+\\ #";c4', max_size=6),
    st.sampled_from(["a", "b c", ""]),
)


@given(TYPED)
def test_what_another_library_reads_is_read_alike(text):
    """Where the cryptography library reads a name, so do we, and with the same parts.

    It knows fewer attribute types and refuses some values that the grammar allows, so only one way.
    """
    try:
        other = x509.Name.from_rfc4514_string(text)
    except (ValueError, KeyError):
        return
    found = distinguished_name.parse(text)
    assert found is not None
    if "#" not in text:
        values = [sorted(attribute.value for attribute in part) for part in reversed(other.rdns)]
        assert [sorted(value for _, value in part) for part in found] == values
