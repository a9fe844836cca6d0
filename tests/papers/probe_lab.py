"""The demo's finished site as real networks, for the probe to be run in."""

from __future__ import annotations

import contextlib
import dataclasses
import datetime as dt
import ipaddress
import json
import pathlib
import subprocess
import sys
from collections.abc import Iterator

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

from planner.papers.probe import probe_of, write_script
from planner.plan import Plan
from planner.record import facts as f
from tests.namespaces import Lab, wait_until
from tests.papers.demo_facts import demo
from tests.programs import program

MACHINES = pathlib.Path(__file__).with_name("probe_machines.py")
ENTRY, DOMAIN = "harbour.larkfield.example", "corp.larkfield.example"
NAMES = {
    f"dc-3.{DOMAIN}": "10.45.1.5",
    f"harbour-h1.{DOMAIN}": "10.45.1.11",
    f"harbour-h2.{DOMAIN}": "10.45.1.12",
    ENTRY: "10.45.1.30",
}
DIRECTORY_PORTS = (88, 135, 389, 445, 464, 636, 3268, 3269)
LAPTOPS = {"rooms": "10.45.20.141", "desktops": "10.45.40.77", "management": "10.45.1.90"}
TRUST = "vouching.pem"
HEARS = "--default-signal=INT"  # it can be stopped, also where the tests run in the background and would not hear of it


def facts_of_site(**site: object) -> f.SiteFacts:
    """The demo's site, whose certificate has a known last day."""
    facts = demo("harbour")
    service = {"certificate_expires": last_day(), "certificate_names": (ENTRY,), **site}
    return dataclasses.replace(facts, service=dataclasses.replace(facts.service, **service))


def last_day() -> dt.date:
    return (dt.datetime.now(dt.UTC) + dt.timedelta(days=200)).date()


# -- certificates --------------------------------------------------------------------------------


class Vouching:
    """A certificate authority of the test's own."""

    def __init__(self, folder: pathlib.Path):
        self.folder, self.key = folder, ec.generate_private_key(ec.SECP256R1())
        self.name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "Vouching")])
        self.certificate = self._sign(self.name, self.key, [], 400, authority=True)
        self.trust = folder / TRUST
        self.trust.write_bytes(self.certificate.public_bytes(serialization.Encoding.PEM))

    def _sign(
        self, subject, key, names, days, *, authority=False, begins=-1, alone=False
    ) -> x509.Certificate:
        now = dt.datetime.now(dt.UTC).replace(microsecond=0)
        made = (
            x509.CertificateBuilder()
            .subject_name(subject)
            .issuer_name(subject if alone else self.name)
        )
        made = made.public_key(key.public_key()).serial_number(x509.random_serial_number())
        made = made.not_valid_before(now + dt.timedelta(days=min(begins, days - 1)))
        made = made.not_valid_after(now + dt.timedelta(days=days))
        made = made.add_extension(
            x509.BasicConstraints(ca=authority, path_length=None), critical=True
        )
        if names:
            made = made.add_extension(
                x509.SubjectAlternativeName([_general(name) for name in names]), critical=False
            )
        return made.sign(key if alone else self.key, hashes.SHA256())

    def pair(self, file: str, *names: str, days: int = 200, alone: bool = False) -> pathlib.Path:
        """A certificate for some names with its key, in one file; ``alone`` makes one that vouches for itself."""
        key = ec.generate_private_key(ec.SECP256R1())
        subject = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, file)])
        made = self._sign(subject, key, names, days, alone=alone)
        secret = key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
        path = self.folder / f"{file}.pem"
        path.write_bytes(made.public_bytes(serialization.Encoding.PEM) + secret)
        return path


def _general(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)


# -- the site ------------------------------------------------------------------------------------


class SiteLab(Lab):
    """Harbour Lane: a router between three networks, its servers, and a laptop in each network."""

    def __init__(self, folder: pathlib.Path):
        super().__init__()
        self.folder, self.vouching = folder, Vouching(folder)
        try:
            for name, third in (("management", 1), ("rooms", 20), ("desktops", 40)):
                self.network(name, f"10.45.{third}.0/24", f"10.45.{third}.1")
            self.machine("dc-3", "management", "10.45.1.5")
            self.machine("files-3", "management", "10.45.1.7")
            self.machine("h1", "management", "10.45.1.11", "10.45.1.21")
            self.machine("h2", "management", "10.45.1.12", "10.45.1.22")
            self.machine("b1", "management", "10.45.1.31", "10.45.1.30")
            self.machine("b2", "management", "10.45.1.32")
            self.machine("printer", "rooms", "10.45.20.60")
            self.machine("copy", "desktops", "10.45.40.51")
            for network, address in LAPTOPS.items():
                self.machine(
                    f"at-{network}",
                    network,
                    address,
                    dns="10.45.1.5",
                    leased=network != "management",
                )
        except BaseException:
            self.close()
            raise

    def serve(self, machine: str, **wanted: object) -> subprocess.Popen:
        return self.start(machine, sys.executable, MACHINES, json.dumps(wanted), ready="ready")

    def names(
        self, records: dict[str, str], *, directory: str = f"dc-3.{DOMAIN}", on: str = "dc-3"
    ) -> subprocess.Popen:
        """A DNS server that answers for these names, forwards and backwards, and knows nothing else."""
        options = [f"--host-record={name},{address}" for name, address in records.items()]
        options += [f"--srv-host=_ldap._tcp.{DOMAIN},{directory},389"]
        return self._dnsmasq(on, "--local=/example/", *options)

    def leases(self, first: str, last: str, *, on: str = "dc-3") -> subprocess.Popen:
        """A DHCP server, which the router relays to when it stands in another network."""
        scope = f"--dhcp-range={first},{last},255.255.255.0,1d"
        return self._dnsmasq(
            on,
            "--port=0",
            "--no-ping",
            "--dhcp-authoritative",
            scope,
            "--dhcp-option=6,10.45.1.5",
            f"--dhcp-leasefile={self.folder / on}.leases",
        )

    def relay(self) -> subprocess.Popen:
        return self._dnsmasq("router", "--port=0", "--dhcp-relay=10.45.40.1,10.45.1.5")

    def _dnsmasq(self, machine: str, *options: str) -> subprocess.Popen:
        common = (
            "--no-daemon",
            "--conf-file=/dev/null",
            "--no-resolv",
            "--no-hosts",
            "--user=root",
            "--pid-file=",
        )
        return self.start(machine, program("dnsmasq"), *common, *options, ready="started")

    def as_planned(self) -> None:
        """Everything the plan says of the servers, each doing what it should."""
        self.names(NAMES)
        self.leases("10.45.40.50", "10.45.40.220")
        self.relay()
        good = self.vouching.pair("good", ENTRY)
        tcp = [["10.45.1.5", port] for port in DIRECTORY_PORTS]
        self.serve("dc-3", tcp=tcp, time=[["10.45.1.5", 0]])
        self.serve("files-3", tcp=[["10.45.1.7", 445], ["10.45.1.7", 631]])
        for machine, own, board in (
            ("h1", "10.45.1.11", "10.45.1.21"),
            ("h2", "10.45.1.12", "10.45.1.22"),
        ):
            self.serve(machine, tcp=[[own, 443], [own, 22], [board, 443]], time=[[own, 0.2]])
        self.serve(
            "b1",
            tcp=[["10.45.1.31", 8443]],
            tls=[["10.45.1.31", 443, str(good)], ["10.45.1.30", 443, str(good)]],
        )
        self.serve("b2", tcp=[["10.45.1.32", 8443]], tls=[["10.45.1.32", 443, str(good)]])
        self.serve("printer", tcp=[["10.45.20.60", 631], ["10.45.20.60", 9100]])
        self.serve("copy", tcp=[["10.45.40.51", 3389], ["10.45.40.51", 8443]])

    # -- the probe ---------------------------------------------------------------------------------

    def begin(
        self, network: str, plan: Plan, *options: str, python: str = sys.executable, at: str = ""
    ) -> Probing:
        """Starts a network's script there, or on the laptop ``at`` somewhere else."""
        probe = probe_of(plan)
        [id] = [one.id for one in plan.facts.networks if one.name == network]
        stem = f"{network}-{len(list(self.folder.iterdir()))}"
        script, results = self.folder / f"{stem}.py", self.folder / f"{stem}.json"
        script.write_text(write_script(plan, probe, id), encoding="utf-8")
        trust = f"SSL_CERT_FILE={self.vouching.trust}"
        command = [
            program("env"),
            HEARS,
            trust,
            python,
            "-W",
            "error",
            script,
            "--yes",
            "--patience",
            "0.8",
        ]
        command += ["--to", results]
        process = subprocess.Popen(
            self.inside(f"at-{at or network}", *command, *options),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        return Probing(process, script, results)

    def probe(self, network: str, plan: Plan, *options: str, **words: str) -> Probing:
        return self.begin(network, plan, *options, **words).ended()


class Probing:
    """One run: the exit code, what it said, and its results by what was asked."""

    def __init__(self, process: subprocess.Popen, script: pathlib.Path, results: pathlib.Path):
        self.process, self.script, self.path = process, script, results
        self.code, self.said = None, ""

    def ended(self) -> Probing:
        self.said = self.process.communicate(timeout=120)[0]
        self.code = self.process.returncode
        return self

    @property
    def content(self) -> bytes:
        return self.path.read_bytes()

    @property
    def states(self) -> dict[str, str]:
        return {one["asked"]: one["state"] for one in json.loads(self.content)["results"]}

    def of(self, *words: str) -> tuple[str, str]:
        """The one answer whose question has all these words: its state and what was seen."""
        found = [
            one
            for one in json.loads(self.content)["results"]
            if all(word in one["asked"] for word in words)
        ]
        assert len(found) == 1, [one["asked"] for one in found]
        return found[0]["state"], found[0]["seen"]


@contextlib.contextmanager
def site_lab(folder: pathlib.Path) -> Iterator[SiteLab]:
    with SiteLab(folder) as lab:
        yield lab


__all__ = ["ENTRY", "NAMES", "Probing", "SiteLab", "facts_of_site", "site_lab", "wait_until"]
