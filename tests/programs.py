"""Programs that tests ask: the checkers of the formats we write. Not in planner, only here.

Administrators' programs often stand in /usr/sbin, which is not in everybody's PATH.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from typing import NoReturn

import pytest

PLACES = os.pathsep.join(
    [os.environ.get("PATH", os.defpath), "/usr/local/sbin", "/usr/sbin", "/sbin"]
)
PACKAGES = {
    "kea-dhcp4": "kea-dhcp4-server",
    "dnsmasq": "dnsmasq-base",
    "nft": "nftables",
    "named-checkzone": "bind9-utils",
    "unshare": "util-linux",
    "nsenter": "util-linux",
    "ip": "iproute2",
    "strace": "strace",
    "node": "nodejs",
}
SECONDS = 60


def missing(why: str) -> NoReturn:
    """Skips the test, or fails it where DESKWRIGHT_NO_SKIP says that nothing may be skipped."""
    if os.environ.get("DESKWRIGHT_NO_SKIP"):
        pytest.fail(f"{why}, and nothing may be skipped here")
    pytest.skip(why)


def program(name: str) -> str:
    """Where a program is; without it the test is skipped, or fails (see :func:`missing`)."""
    found = shutil.which(name, path=PLACES)
    return found or missing(f"{name} is not installed (Debian package: {PACKAGES.get(name, name)})")


def run(
    name: str, *arguments: object, given: str | None = None
) -> subprocess.CompletedProcess[str]:
    """Runs a program to its end and gives what it said; nothing is raised when it is not content."""
    command = [program(name), *map(str, arguments)]
    return subprocess.run(
        command, input=given, capture_output=True, text=True, timeout=SECONDS, check=False
    )


def apart(*command: object) -> subprocess.CompletedProcess[str]:
    """Runs a command in a network of its own, where it may load firewall rules and harms nobody."""
    own = ["-n"] if os.geteuid() == 0 else ["-r", "-n"]
    if run("unshare", *own, "true").returncode:
        missing("this machine lets nobody make a network of its own (unshare)")
    return run("unshare", *own, *command)
