"""Asks the real programs whether they accept a configuration, and reads it back by other means."""

from __future__ import annotations

import datetime as dt
import os
import pathlib
import re

import dns.zone

from planner.papers.configs import CONFIGS, Config, Edition
from planner.plan import Plan
from planner.record.facts import SiteFacts
from tests.programs import apart, program, run

EDITION = Edition(dt.date(2027, 1, 14), "B")


def config(slug: str, facts: SiteFacts, edition: Edition = EDITION) -> Config:
    return CONFIGS[slug].make(Plan(facts), edition)


def reasons(made: Config) -> str:
    return "\n".join(problem.text for problem in made.problems)


def accepted(slug: str, made: Config, folder: pathlib.Path) -> None:
    """Fails with the program's own words when it refuses the configuration."""
    CHECKERS[slug](made, folder)


def _kea(made: Config, folder: pathlib.Path) -> None:
    answer = run("kea-dhcp4", "-t", _written(folder, "kea.json", made.text))
    assert answer.returncode == 0, answer.stdout + answer.stderr + made.text
    assert not re.search(r"\b(WARN|ERROR|FATAL)\b", answer.stdout), answer.stdout


def _dnsmasq(made: Config, folder: pathlib.Path) -> None:
    answer = run("dnsmasq", "--test", f"--conf-file={_written(folder, 'dnsmasq.conf', made.text)}")
    assert answer.returncode == 0, answer.stderr + made.text


def _nft(made: Config, folder: pathlib.Path) -> None:
    answer = nft("-c", "-f", _written(folder, "rules.nft", made.text))
    assert answer.returncode == 0, answer.stderr + made.text
    assert not answer.stderr, answer.stderr


def _zones(made: Config, folder: pathlib.Path) -> None:
    for name, text in zone_files(made).items():
        checks = (
            "-k",
            "fail",
            "-n",
            "fail",
            "-m",
            "fail",
            "-r",
            "fail",
            "-S",
            "fail",
            "-i",
            "local",
        )
        answer = run("named-checkzone", *checks, name, _written(folder, "zone", text))
        assert answer.returncode == 0, name + answer.stdout + answer.stderr + text


def _hosts(made: Config, folder: pathlib.Path) -> None:
    """No program checks a hosts file; each line must be an address, names and a comment."""
    for line in made.text.splitlines():
        assert re.fullmatch(r"#.*|[0-9a-f.:]+ +[a-z0-9.-]+(  [a-z0-9-]+)?  # .*", line), line


CHECKERS = {
    "dhcp-kea": _kea,
    "dhcp-dnsmasq": _dnsmasq,
    "firewall": _nft,
    "zones": _zones,
    "hosts": _hosts,
}


def nft(*arguments: object):
    """nft asks the kernel even when it only checks: as somebody who may, in a network of its own where we may not."""
    return run("nft", *arguments) if os.geteuid() == 0 else apart(program("nft"), *arguments)


def _written(folder: pathlib.Path, name: str, text: str) -> pathlib.Path:
    path = folder / name
    path.write_bytes(text.encode())
    return path


def zone_files(made: Config) -> dict[str, str]:
    """The zones' texts by the zones' names, as the files themselves say them."""
    found = {}
    for name, text in made.files.items():
        if name.endswith(".zone"):
            [origin] = re.findall(r"^\$ORIGIN (\S+)\.$", text, re.MULTILINE)
            found[origin] = text
    return found


def zone_records(made: Config) -> dict[str, set[tuple[str, str, str]]]:
    """Each zone read by another program: its records but SOA and NS, as (whole name, type, value)."""
    found = {}
    for origin, text in zone_files(made).items():
        zone = dns.zone.from_text(text, origin=origin, relativize=False)
        found[origin] = {
            (str(name).rstrip("."), kind, str(value).rstrip("."))
            for name, node in zone.nodes.items()
            for records in node.rdatasets
            for value in records
            if (kind := dns.rdatatype.to_text(records.rdtype)) not in ("SOA", "NS")
        }
    return found
