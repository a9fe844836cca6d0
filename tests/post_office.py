"""Mail servers on this machine that take letters, refuse them, or never answer; with certificates of their own."""

from __future__ import annotations

import contextlib
import datetime as dt
import ipaddress
import pathlib
import socket
import ssl
import threading
import time
from collections.abc import Iterator

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

HERE = "127.0.0.1"


class Counter:
    """Takes letters over the counter, or says no in the way a test wants."""

    def __init__(self, no_to: str = "", no_letter: bool = False):
        self.no_to, self.no_letter = no_to, no_letter
        self.letters, self.users, self.encrypted = [], [], []

    def authenticate(self, server, session, envelope, mechanism, told) -> AuthResult:
        self.users.append((told.login.decode(), told.password.decode()))
        return AuthResult(success=told.password == b"p@ss/w#rd:1", handled=False)

    async def handle_RCPT(self, server, session, envelope, address, options) -> str:
        if self.no_to and self.no_to in address:
            return f"550 5.1.1 <{address}>: nobody of this name"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope) -> str:
        if self.no_letter:
            return (
                f"554 5.7.1 refused because of {envelope.content.decode().split('http')[-1][:60]!r}"
            )
        self.letters.append(envelope)
        self.encrypted.append(
            session.ssl is not None or server.transport.get_extra_info("sslcontext") is not None
        )
        return "250 OK"


@contextlib.contextmanager
def office(counter: Counter, **how) -> Iterator[int]:
    """A mail server with this counter; gives its port."""
    with socket.create_server((HERE, 0)) as found:
        port = found.getsockname()[1]
    control = Controller(counter, hostname=HERE, port=port, **how)
    control.start()
    try:
        yield port
    finally:
        control.stop(no_assert=True)


@contextlib.contextmanager
def silent_office(drip: bytes = b"") -> Iterator[int]:
    """Takes every call and never answers; or answers for ever, one sign at a time."""
    ended = threading.Event()
    ear = socket.create_server((HERE, 0))
    callers = []

    def listen() -> None:
        with contextlib.suppress(OSError):
            while not ended.is_set():
                caller = ear.accept()[0]
                callers.append(caller)
                if drip:
                    threading.Thread(target=dripping, args=(caller,), daemon=True).start()

    def dripping(caller: socket.socket) -> None:
        end = time.monotonic() + 20
        with contextlib.suppress(OSError):
            while not ended.is_set() and time.monotonic() < end:
                caller.sendall(drip)
                time.sleep(0.2)

    threading.Thread(target=listen, daemon=True).start()
    try:
        yield ear.getsockname()[1]
    finally:
        ended.set()
        with contextlib.suppress(OSError):
            ear.shutdown(socket.SHUT_RDWR)
        ear.close()
        for caller in callers:
            with contextlib.suppress(OSError):
                caller.shutdown(socket.SHUT_RDWR)
            caller.close()


def closed_port() -> int:
    with socket.create_server((HERE, 0)) as found:
        return found.getsockname()[1]


class Papers:
    """An authority of the test's own, and the certificate of a mail server that it vouches for."""

    def __init__(self, folder: pathlib.Path, name: str = "localhost"):
        self.authority = folder / "authority.pem"
        both = folder / "server.pem"
        now = dt.datetime.now(dt.UTC)
        authority_key, server_key = (ec.generate_private_key(ec.SECP256R1()) for _ in range(2))
        issuer = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Authority of a test")])

        def paper(subject, key, *, is_authority):
            return (
                x509.CertificateBuilder()
                .subject_name(subject)
                .issuer_name(issuer)
                .public_key(key.public_key())
                .serial_number(x509.random_serial_number())
                .not_valid_before(now - dt.timedelta(hours=1))
                .not_valid_after(now + dt.timedelta(days=1))
                .add_extension(
                    x509.BasicConstraints(ca=is_authority, path_length=None), critical=True
                )
            )

        own = paper(issuer, authority_key, is_authority=True).sign(authority_key, hashes.SHA256())
        names = [x509.DNSName(name)]
        if name == "localhost":
            names.append(x509.IPAddress(ipaddress.ip_address(HERE)))
        server = paper(x509.Name([]), server_key, is_authority=False)
        server = server.add_extension(x509.SubjectAlternativeName(names), critical=True)
        server = server.sign(authority_key, hashes.SHA256())
        form = serialization.Encoding.PEM
        self.authority.write_bytes(own.public_bytes(form))
        secret = server_key.private_bytes(
            form, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )
        both.write_bytes(server.public_bytes(form) + secret)
        self.context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
        self.context.load_cert_chain(both)
