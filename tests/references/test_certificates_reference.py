"""Which names a certificate speaks for, against two TLS libraries and a published table.

Source: OpenSSL, X509_check_host, asked through Python's ``ssl`` by a handshake in memory.
Source: the ``cryptography`` package, ``x509.verification``, which follows the web's profile of RFC 5280.
Source: the Go project, crypto/x509/x509_test.go, matchHostnamesTests (BSD licence), rows as data.
Source: RFC 9525 §6.3, §6.4.
"""

from __future__ import annotations

import datetime as dt
import functools
import ipaddress
import ssl

import idna
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError

from planner.engine.upkeep.certificates import covering, covers, days_beyond

NOW = dt.datetime.now(dt.UTC)
DAY = dt.timedelta(days=1)
KEY = ec.generate_private_key(ec.SECP256R1())

# Source: the Go project, crypto/x509/x509_test.go, matchHostnamesTests: name in the certificate, name asked, covered.
GO_TABLE = [
    ("a.b.c", "a.b.c", True),
    ("a.b.c", "b.b.c", False),
    ("", "b.b.c", False),
    ("a.b.c", "", False),
    ("example.com", "example.com", True),
    ("example.com", "www.example.com", False),
    ("*.example.com", "example.com", False),
    ("*.example.com", "www.example.com", True),
    ("*.example.com", "www.example.com.", True),
    ("*.example.com", "xyz.www.example.com", False),
    ("*.example.com", "https://www.example.com", False),
    ("*.example..com", "www.example..com", False),
    ("*.*.example.com", "xyz.www.example.com", False),
    ("*.www.*.com", "xyz.www.example.com", False),
    ("*bar.example.com", "foobar.example.com", False),
    ("f*.example.com", "foobar.example.com", False),
    ("www.example.com", "*.example.com", False),
    ("", ".", False),
    (".", "", False),
    (".", ".", False),
    ("example.com", "example.com.", True),
    ("example.com.", "example.com.", True),
    ("*.com.", "example.com.", False),
    ("*.com.", "example.com", False),
    ("*.foo:bar", "xxx.foo:bar", False),
    ("*.2.3.4", "1.2.3.4", False),
    ("*.2.3.4", "[1.2.3.4]", False),
    ("*:4860:4860::8888", "2001:4860:4860::8888", False),
]
# Rows of that table where we differ, each with the reason.
DIFFER = [
    ("*.com", "example.com", True),  # OpenSSL asks for two labels after the wildcard, and so do we
    ("*.com", "example.com.", True),
    ("example.com.", "example.com", False),  # a final dot is no part of the name (RFC 1034 §3.1)
    ("www.example..com", "www.example..com", True),  # an empty label is no name (RFC 1035 §2.3.4)
    ("foo:bar", "foo:bar", True),  # nor is a colon a letter of one
]
PAIRS = [
    ("desk.larkfield.example", "desk.larkfield.example"),
    ("DESK.Larkfield.EXAMPLE", "desk.larkfield.example"),
    ("*.larkfield.example", "desk.larkfield.example"),
    ("*.larkfield.example", "larkfield.example"),
    ("*.larkfield.example", "a.desk.larkfield.example"),
    ("d*.larkfield.example", "desk.larkfield.example"),
    ("*sk.larkfield.example", "desk.larkfield.example"),
    ("desk.*.example", "desk.larkfield.example"),
    ("*.*.example", "desk.larkfield.example"),
    ("*.example", "larkfield.example"),
    ("larkfield.example", "desk.larkfield.example"),
    ("desk.larkfield.example", "desk.larkfield.exampl"),
    ("*.larkfield.example", "xn--bro-hoa.larkfield.example"),
    ("desk", "desk"),
    ("*", "desk"),
    ("xn--bro-hoa.larkfield.example", "xn--bro-hoa.larkfield.example"),
    ("*.larkfield.example", "10.44.0.30"),
    ("*.44.0.30", "10.44.0.30"),
]


@functools.cache
def certificate(*names: str, addresses: tuple[str, ...] = ()) -> x509.Certificate:
    """A root that speaks for the names, signed by itself."""
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "test root")])
    listed = [x509.DNSName(name) for name in names] + [
        x509.IPAddress(ipaddress.ip_address(a)) for a in addresses
    ]
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(KEY.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(NOW - DAY)
        .not_valid_after(NOW + 90 * DAY)
        .add_extension(x509.SubjectAlternativeName(listed), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(KEY, hashes.SHA256())
    )


def accepted_by_openssl(certificate: x509.Certificate, name: str, folder) -> bool:
    """Whether OpenSSL takes the certificate for the name: a TLS handshake between two ends in memory."""
    chain, key = folder / "chain.pem", folder / "key.pem"
    pem = certificate.public_bytes(serialization.Encoding.PEM)
    chain.write_bytes(pem)
    form, style = serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8
    key.write_bytes(KEY.private_bytes(form, style, serialization.NoEncryption()))
    there = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    there.load_cert_chain(chain, key)
    here = ssl.create_default_context(cadata=pem.decode())
    up, down = ssl.MemoryBIO(), ssl.MemoryBIO()
    client, server = (
        here.wrap_bio(down, up, server_hostname=name),
        there.wrap_bio(up, down, server_side=True),
    )
    for _ in range(6):
        for end in (client, server):
            try:
                end.do_handshake()
                if end is client:
                    return True
            except ssl.SSLWantReadError:
                continue
            except ssl.SSLCertVerificationError as error:
                assert "match" in error.verify_message.lower(), (
                    error
                )  # refused for its name and nothing else
                return False
    raise AssertionError("the handshake did not end")


def test_the_reference_says_yes_and_no(tmp_path):
    assert accepted_by_openssl(
        certificate("desk.larkfield.example"), "desk.larkfield.example", tmp_path
    )
    assert not accepted_by_openssl(
        certificate("desk.larkfield.example"), "other.larkfield.example", tmp_path
    )


@pytest.mark.parametrize(("pattern", "name"), PAIRS)
def test_names_as_openssl(pattern, name, tmp_path):
    assert covers(pattern, name) == accepted_by_openssl(certificate(pattern), name, tmp_path)


@pytest.mark.parametrize(
    "name", ["10.44.0.30", "10.44.0.31", "2001:db8::30", "2001:0db8:0::0030", "desk.example"]
)
def test_addresses_as_openssl(name, tmp_path):
    """Source: RFC 9525 §6.4: an address is covered by the same octets only."""
    ours = bool(covering(("10.44.0.30", "2001:db8::30"), name))
    both = certificate("other.example", addresses=("10.44.0.30", "2001:db8::30"))
    assert ours == accepted_by_openssl(both, name, tmp_path)


def leaf(name: str) -> x509.Certificate:
    root = certificate("root.example")
    return (
        x509.CertificateBuilder()
        .subject_name(x509.Name([]))
        .issuer_name(root.subject)
        .public_key(KEY.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(NOW - DAY)
        .not_valid_after(NOW + 30 * DAY)
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(name)]), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(KEY.public_key()), critical=False
        )
        .sign(KEY, hashes.SHA256())
    )


@functools.cache
def web_root() -> x509.Certificate:
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "test root")])
    usage = x509.KeyUsage(False, False, False, False, False, True, True, False, False)
    return (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(KEY.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(NOW - DAY)
        .not_valid_after(NOW + 90 * DAY)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(KEY.public_key()), critical=False)
        .sign(KEY, hashes.SHA256())
    )


WEB_PAIRS = [pair for pair in PAIRS if pair[0].count(".") > 1 and not pair[1][0].isdigit()]


@pytest.mark.parametrize(("pattern", "name"), WEB_PAIRS)
def test_names_as_the_webs_profile(pattern, name):
    verifier = (
        PolicyBuilder()
        .store(Store([web_root()]))
        .time(NOW)
        .build_server_verifier(x509.DNSName(name))
    )
    try:
        verifier.verify(leaf(pattern), [])
        accepted = True
    except VerificationError:
        accepted = False
    assert covers(pattern, name) == accepted


@pytest.mark.parametrize(("pattern", "name", "covered"), GO_TABLE)
def test_names_as_the_published_table(pattern, name, covered):
    assert covers(pattern, name) is covered


@pytest.mark.parametrize(("pattern", "name", "covered"), DIFFER)
def test_where_we_differ_from_the_published_table(pattern, name, covered):
    assert covers(pattern, name) is not covered


@pytest.mark.parametrize("label", ["bücher", "büro", "größer", "épicerie", "бюро", "γραφείο"])
def test_international_names_are_compared_as_the_dns_carries_them(label):
    """Source: the ``idna`` package (RFC 5891). Where the older coding differs (ß, final ς), ours is the older one."""
    carried = idna.encode(label).decode()
    older = "ß" in label
    assert covers(f"{carried}.example.com", f"{label}.example.com") is not older
    assert covers(f"{label.upper()}.example.com", f"{label}.example.com")
    assert not covers("bucher.example.com", f"{label}.example.com")


def test_days_beyond():
    """Worked by the calendar: 2028 is a leap year, so 1 March is 2 days after 28 February."""
    assert days_beyond(dt.date(2028, 3, 1), dt.date(2028, 2, 28)) == 2
    assert days_beyond(dt.date(2028, 2, 28), dt.date(2028, 3, 1)) == -2
    assert days_beyond(None, dt.date(2028, 3, 1)) is None
    assert days_beyond(dt.date(2028, 3, 1), None) is None
