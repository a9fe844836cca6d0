"""Networks to try things in: machines that are network namespaces, joined by a router that is one too.

Nothing of it touches the machine's own network. It takes root and iproute2; without them the test is skipped, or
fails where nothing may be skipped (see :mod:`tests.programs`).
"""

from __future__ import annotations

import contextlib
import ipaddress
import itertools
import os
import pathlib
import shutil
import subprocess
import time

from tests.programs import missing, program, run

_numbers = itertools.count(1)
RESOLVERS = pathlib.Path(
    "/etc/netns"
)  # ``ip netns exec`` puts a machine's files here in the place of /etc


class Lab:
    """A router and the machines of its networks. Close it, or use it in a ``with``.

    Each network is a bridge in the router, which has the network's gateway address and forwards between them.
    """

    def __init__(self) -> None:
        if os.geteuid() != 0:
            missing("networks of one's own take root")
        program("ip")
        self._name = f"dw{os.getpid()}-{next(_numbers)}"
        self._spaces: list[str] = []
        self._running: list[subprocess.Popen] = []
        self._networks: dict[str, ipaddress.IPv4Network] = {}
        self._gateways: dict[str, str] = {}
        self._links = itertools.count(1)
        try:
            self._space("router")
            self.do("router", "sh", "-c", "echo 1 > /proc/sys/net/ipv4/ip_forward")
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> Lab:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Ends what was started here and takes the networks away."""
        for one in reversed(self._running):
            one.kill()
            one.wait()
        for space in self._spaces:
            run("ip", "netns", "delete", space)
            shutil.rmtree(RESOLVERS / space, ignore_errors=True)
        self._running, self._spaces = [], []
        with contextlib.suppress(OSError):  # somebody else's machines have theirs there
            RESOLVERS.rmdir()

    # -- building --------------------------------------------------------------------------------

    def _space(self, machine: str) -> None:
        made = run("ip", "netns", "add", self.of(machine))
        if made.returncode:
            missing(f"this machine lets nobody make a network of its own ({made.stderr.strip()})")
        self._spaces.append(self.of(machine))
        self.do(machine, "ip", "link", "set", "lo", "up")

    def of(self, machine: str) -> str:
        """A machine's namespace."""
        return f"{self._name}-{machine}"

    def network(self, name: str, subnet: str, gateway: str) -> None:
        self._networks[name], self._gateways[name] = ipaddress.ip_network(subnet), gateway
        self.do("router", "ip", "link", "add", name, "type", "bridge")
        self.do(
            "router",
            "ip",
            "addr",
            "add",
            f"{gateway}/{self._networks[name].prefixlen}",
            "dev",
            name,
        )
        self.do("router", "ip", "link", "set", name, "up")

    def machine(
        self, name: str, network: str, *addresses: str, dns: str = "", leased: bool = False
    ) -> None:
        """A machine with these addresses; ``leased`` marks them as ones that run out, as a DHCP client does."""
        self._space(name)
        port = f"p{next(self._links)}"
        self.do(
            "router",
            "ip",
            "link",
            "add",
            port,
            "type",
            "veth",
            "peer",
            "name",
            "lan",
            "netns",
            self.of(name),
        )
        self.do("router", "ip", "link", "set", port, "master", network, "up")
        length = ["valid_lft", "3600", "preferred_lft", "3600"] if leased else []
        for address in addresses:
            whole = f"{address}/{self._networks[network].prefixlen}"
            self.do(name, "ip", "addr", "add", whole, "dev", "lan", *length)
        self.do(name, "ip", "link", "set", "lan", "up")
        self.do(name, "ip", "route", "add", "default", "via", self._gateways[network])
        if dns:
            folder = RESOLVERS / self.of(name)
            folder.mkdir(parents=True)
            (folder / "resolv.conf").write_text(f"nameserver {dns}\noptions timeout:1 attempts:1\n")

    # -- using -----------------------------------------------------------------------------------

    def inside(self, machine: str, *command: object) -> list[str]:
        return [program("ip"), "netns", "exec", self.of(machine), *map(str, command)]

    def do(self, machine: str, *command: object, given: str | None = None) -> None:
        """Runs a command on a machine; fails with what it said when it is not content."""
        done = subprocess.run(
            self.inside(machine, program(str(command[0])), *command[1:]),
            input=given,
            capture_output=True,
            text=True,
            timeout=30,
            check=False,
        )
        assert done.returncode == 0, f"{command}: {done.stdout}{done.stderr}"

    def start(self, machine: str, *command: object, ready: str = "") -> subprocess.Popen:
        """Starts a program that stays; waits until it has said ``ready``."""
        made = subprocess.Popen(
            self.inside(machine, *command),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self._running.append(made)
        said = ""
        while ready and ready not in said:
            line = made.stdout.readline() if made.stdout else ""
            assert line, f"{command[0]} ended: {said}"
            said += line
        return made

    def stop(self, process: subprocess.Popen) -> None:
        process.kill()
        process.wait()
        self._running.remove(process)

    def firewall(self, rules: str, machine: str = "router") -> None:
        """Sets what the router forwards: nft statements, one a line, in a chain that lets the rest through.

        For another machine it is what it lets in.
        """
        hook = "forward" if machine == "router" else "input"
        chain = (
            f"chain lab {{\ntype filter hook {hook} priority filter; policy accept;\n{rules}\n}}"
        )
        table = f"table ip lab {{}}\ndelete table ip lab\ntable ip lab {{\n{chain}\n}}\n"
        self.do(machine, "nft", "-f", "-", given=table)


def wait_until(true, seconds: float = 10.0) -> None:
    """Waits until something is so, and fails when it never is."""
    until = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < until, "it never came about"
        time.sleep(0.05)
