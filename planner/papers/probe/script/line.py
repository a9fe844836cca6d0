"""Line: what this machine itself was given: address, mask, lease and DNS servers, as its system shows them."""

from __future__ import annotations

import collections.abc
import ipaddress
import re
import socket
import struct
import sys
import typing

from planner.papers.probe.script.reach import own_address_towards, system_said

RESOLVED_FILES = ("/run/systemd/resolve/resolv.conf", "/etc/resolv.conf")
WINDOWS_LINES = r"SYSTEM\CurrentControlSet\Services\Tcpip\Parameters\Interfaces"


class Line:
    """What this machine has on one network. ``None`` and "" stand for what could not be read.

    ``prefix`` is the mask's length, ``leased`` whether the address came by DHCP, ``server`` who gave it,
    ``seconds`` the lease time, ``names`` the DNS servers in use, ``device`` the line's own name.
    """

    def __init__(
        self,
        address: str = "",
        prefix: int | None = None,
        leased: bool | None = None,
        server: str = "",
        seconds: int | None = None,
        names: collections.abc.Iterable[str] = (),
        device: str = "",
        mac: str = "",
    ) -> None:
        self.address = address
        self.prefix = prefix
        self.leased = leased
        self.server = server
        self.seconds = seconds
        self.names = tuple(names)
        self.device = device
        self.mac = mac

    @property
    def words(self) -> str:
        whole = self.address + (f"/{self.prefix}" if self.prefix is not None else "")
        how = {True: ", from DHCP", False: ", set by hand", None: ""}[self.leased]
        if self.server:
            server = f" by {self.server}"
        else:
            server = ""
        return whole + how + server


def line_on(subnet: str, gateway: str) -> Line:
    """The line this machine has on a subnet, or the one towards it with its own address when it has none there."""
    inside = ipaddress.ip_network(subnet)
    found = [line for line in every_line() if is_inside(line.address, inside)]
    if found:
        return found[0]
    for target in (gateway, str(inside.network_address + (1 if inside.num_addresses > 2 else 0))):
        if target:
            address = own_address_towards(target)
        else:
            address = ""
        if address:
            return Line(address)
    return Line()


def is_inside(address: str, subnet: ipaddress.IPv4Network | ipaddress.IPv6Network) -> bool:
    """Whether an address text lies in an ``ip_network``."""
    try:
        return ipaddress.ip_address(address) in subnet
    except ValueError:
        return False


def every_line() -> list[Line]:
    """Every IPv4 line of this machine, as far as its system tells without changing anything."""
    if sys.platform == "win32":
        return windows_lines()
    text, content = system_said(["ip", "-4", "-o", "addr", "show"])
    if content:
        return _with_names(lines_of_ip(text))
    text, content = system_said(["ifconfig"])
    if content:
        found = lines_of_ifconfig(text)
    else:
        found = []
    if sys.platform == "darwin":
        for line in found:
            add_packet(line, system_said(["ipconfig", "getpacket", line.device])[0])
        return found
    return _with_names(found or _asked_of_system())


def _with_names(lines: list[Line]) -> list[Line]:
    names = names_in_use()
    for line in lines:
        line.names = names
    return lines


# -- Linux ---------------------------------------------------------------------------------------


def lines_of_ip(text: str) -> list[Line]:
    """From ``ip -4 -o addr show``: an address that runs out bears the word "dynamic"."""
    found = []
    for row in text.splitlines():
        cells = row.split()
        if "inet" not in cells[:-1]:
            continue
        address, _, length = cells[cells.index("inet") + 1].partition("/")
        if "peer" in cells:
            length = "32"
        device = cells[1].rstrip(":")
        found.append(
            Line(
                address, int(length or 32), "dynamic" in cells, device=device, mac=_hardware(device)
            )
        )
    return found


def names_in_use() -> tuple[str, ...]:
    """The DNS servers of the system's own list; the first list that names more than the machine itself."""
    for path in RESOLVED_FILES:
        try:
            with open(path, encoding="utf-8", errors="replace") as listed:
                names = names_of_list(listed.read())
        except OSError:
            continue
        if names and not all(name.startswith("127.") for name in names):
            return names
    return ()


def names_of_list(text: str) -> tuple[str, ...]:
    """From a list of ``nameserver`` lines."""
    rows = [row.split() for row in text.splitlines()]
    return tuple(row[1] for row in rows if len(row) > 1 and row[0] == "nameserver")


def _asked_of_system() -> list[Line]:
    """Address and mask of each device, asked of the system itself where no program tells them (Linux)."""
    found = []
    for _, device in socket.if_nameindex():
        address, mask = (
            _device(device, 0x8915),
            _device(device, 0x891B),
        )  # SIOCGIFADDR, SIOCGIFNETMASK
        if address and mask:
            octets = struct.unpack("!I", mask[20:24])[0]
            whole = socket.inet_ntoa(address[20:24])
            found.append(Line(whole, bin(octets).count("1"), device=device, mac=_hardware(device)))
    return found


def _hardware(device: str) -> str:
    found = _device(device, 0x8927)  # SIOCGIFHWADDR
    if found:
        return ":".join(f"{octet:02x}" for octet in found[18:24])
    return ""


def _device(device: str, question: int) -> bytes:
    if not sys.platform.startswith("linux"):
        return b""
    import fcntl

    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as line:
            return fcntl.ioctl(line.fileno(), question, struct.pack("256s", device.encode()[:15]))
    except OSError:
        return b""


# -- macOS ---------------------------------------------------------------------------------------


def lines_of_ifconfig(text: str) -> list[Line]:
    """From ``ifconfig``: the device stands at the left edge, its masks are hexadecimal or dotted."""
    found: list[Line] = []
    device, mac = "", ""
    for row in text.splitlines():
        if row[:1].strip():
            device, mac = row.split(":")[0].split()[0], ""
        cells = row.split()
        if cells[:1] == ["ether"] and len(cells) > 1:
            mac = cells[1]
        if cells[:1] == ["inet"] and "netmask" in cells:
            mask = cells[cells.index("netmask") + 1]
            if mask.startswith("0x"):
                number = int(mask, 16)
            else:
                number = int(ipaddress.ip_address(mask))
            found.append(Line(cells[1], bin(number).count("1"), device=device, mac=mac))
    return found


def add_packet(line: Line, text: str) -> None:
    """From ``ipconfig getpacket``: the DHCP answer that a device lives by, nothing where it has none."""
    said = dict(re.findall(r"^(\w+)(?: \([a-z0-9_]+\))?(?: =|:) *(.*)$", text, re.MULTILINE))
    line.leased = said.get("yiaddr") == line.address if said else False
    line.server = said.get("server_identifier", "")
    line.names = tuple(re.findall(r"[0-9.]+", said.get("domain_name_server", "")))
    seconds = said.get("lease_time", "")
    line.seconds = int(seconds, 0) if re.match(r"(0x[0-9a-f]+|[0-9]+)$", seconds) else None


# -- Windows -------------------------------------------------------------------------------------


def windows_lines() -> list[Line]:
    """From the registry, which says the same in every language. Read only."""
    if sys.platform != "win32":
        return []
    import winreg

    found = []
    with winreg.OpenKey(winreg.HKEY_LOCAL_MACHINE, WINDOWS_LINES) as folder:
        for number in range(winreg.QueryInfoKey(folder)[0]):
            with winreg.OpenKey(folder, winreg.EnumKey(folder, number)) as place:
                values = dict(
                    winreg.EnumValue(place, at)[:2] for at in range(winreg.QueryInfoKey(place)[1])
                )
            found += lines_of_values(values)
    return found


def lines_of_values(values: collections.abc.Mapping[str, typing.Any]) -> list[Line]:
    """The lines of one device's values in the registry."""
    leased = bool(values.get("EnableDHCP"))
    if leased:
        head = "Dhcp"
    else:
        head = ""
    addresses = values.get("DhcpIPAddress" if leased else "IPAddress") or []
    masks = values.get(head + "SubnetMask") or []
    addresses, masks = ([one] if isinstance(one, str) else list(one) for one in (addresses, masks))
    names = re.findall(r"[0-9.]+", values.get("NameServer") or values.get("DhcpNameServer") or "")
    server, seconds = (
        (values.get("DhcpServer") or "", values.get("Lease")) if leased else ("", None)
    )
    found = []
    for at, address in enumerate(addresses):
        if address and address != "0.0.0.0":  # noqa: S104  (what a device without an address has)
            if at < len(masks):
                mask = masks[at]
            else:
                mask = ""
            if mask:
                prefix = bin(int(ipaddress.ip_address(mask))).count("1")
            else:
                prefix = None
            found.append(Line(address, prefix, leased, server, seconds, names))
    return found
