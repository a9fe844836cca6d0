"""A firewall with real networks behind it, to see what its rules let through. Not a test: run by one.

Run in a network namespace of its own: ``python firewall_lab.py RULES PROBES``. PROBES is JSON: ``networks``
(subnet → machines' addresses) and ``probes`` (from, to, TCP port). Each subnet becomes a namespace joined
to this one, which forwards by the rules. Prints JSON: for each probe whether the connection came about.
"""

from __future__ import annotations

import ipaddress
import json
import pathlib
import socket
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

CONNECT = (
    "import socket, sys\n"
    "made = socket.socket()\nmade.settimeout(0.4)\nmade.bind((sys.argv[1], 0))\n"
    "sys.exit(bool(made.connect_ex((sys.argv[2], int(sys.argv[3])))))"
)
LISTEN = (
    "import socket, sys\n"
    "kept = [socket.create_server(('', int(port))) for port in sys.argv[1:]]\n"
    "print('ready', flush=True)\nsys.stdin.read()"
)


def do(*command: object) -> None:
    subprocess.run([str(word) for word in command], check=True, capture_output=True)


def inside(namespace: int, *command: object) -> list[str]:
    return ["nsenter", "-t", str(namespace), "-n", *map(str, command)]


def main(rules: str, probes: str) -> None:
    wanted = json.loads(pathlib.Path(probes).read_text())
    held = [subprocess.Popen(["unshare", "-n", "sleep", "60"]) for _ in wanted["networks"]]
    listening: list[subprocess.Popen] = []
    try:
        where = {}
        for number, (subnet, machines) in enumerate(wanted["networks"].items()):
            where |= dict.fromkeys(machines, held[number].pid)
            join(number, ipaddress.ip_network(subnet), machines, held[number].pid)
        pathlib.Path("/proc/sys/net/ipv4/ip_forward").write_text("1")
        do("nft", "-f", rules)
        ports: dict[int, set[int]] = {}
        for _, target, port in wanted["probes"]:
            ports.setdefault(where[target], set()).add(port)
        for namespace, some in ports.items():
            listening.append(listen(namespace, some))
        with ThreadPoolExecutor(8) as pool:
            found = pool.map(lambda one: connects(where[one[0]], *one), wanted["probes"])
        json.dump(list(found), sys.stdout)
    finally:
        for one in (*listening, *held):
            one.kill()


def join(number: int, subnet: ipaddress.IPv4Network, machines: list[str], namespace: int) -> None:
    """Joins a subnet to the firewall, which has its last address."""
    gateway, length = subnet[-2], subnet.prefixlen
    wait_for_namespace(namespace)
    do(
        "ip",
        "link",
        "add",
        f"fw{number}",
        "type",
        "veth",
        "peer",
        "name",
        "lan",
        "netns",
        namespace,
    )
    do("ip", "addr", "add", f"{gateway}/{length}", "dev", f"fw{number}")
    do("ip", "link", "set", f"fw{number}", "up")
    for machine in machines:
        do(*inside(namespace, "ip", "addr", "add", f"{machine}/{length}", "dev", "lan"))
    do(*inside(namespace, "ip", "link", "set", "lan", "up"))
    do(*inside(namespace, "ip", "route", "add", "default", "via", gateway))


def wait_for_namespace(process: int) -> None:
    """Until the process has left our namespace for its own."""
    ours = pathlib.Path("/proc/self/ns/net").readlink()
    while pathlib.Path(f"/proc/{process}/ns/net").readlink() == ours:
        pass


def listen(namespace: int, ports: set[int]) -> subprocess.Popen:
    command = inside(namespace, sys.executable, "-c", LISTEN, *sorted(ports))
    made = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    assert made.stdout and made.stdout.readline() == "ready\n"
    return made


def connects(namespace: int, source: str, target: str, port: int) -> bool:
    return (
        subprocess.run(
            inside(namespace, sys.executable, "-c", CONNECT, source, target, port)
        ).returncode
        == 0
    )


if __name__ == "__main__":
    socket.setdefaulttimeout(5)
    main(*sys.argv[1:])
