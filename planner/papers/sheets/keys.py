"""What tells the rows of an allocation sheet apart when it comes back, and which of its cells may be filled in.

A key stands in every row, so that it survives sorting, filtering and copying to another file::

    larkfield/mill/7KQ2-M9XD/host-12/address/5

the customer's and the site's code, the fingerprint of the plan the sheet was made from, the record's
anchor, the part of it the row speaks of, and the record's edit counter where it was known.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

HEADING = "Key"
_KEY = re.compile(
    r"([a-z0-9-]{0,40})/([a-z0-9-]{0,40})/([0-9A-Z]{4}-[0-9A-Z]{4})/([a-z]{1,20}-[0-9]{1,18})/([a-z0-9_]{1,30})(?:/([0-9]{1,10}))?"
)
_OWN = {"Network": "network_id", "Address": "address", "Name": "name", "MAC": "mac"}
# What a row's cells hold: by record kind and part, the heading of each cell that may be filled in and its field.
FILLED: dict[tuple[str, str], Mapping[str, str]] = {
    ("network", "cidr"): {"Name": "name", "VLAN": "vlan", "Subnet": "cidr"},
    ("network", "gateway"): {"Address": "gateway"},
    ("network", "dhcp"): {
        "Address": "dhcp_first",
        "Last address": "dhcp_last",
        "Name": "dhcp_server",
    },
    ("network", "ipv6_prefix"): {"Subnet": "ipv6_prefix"},
    ("host", "address"): _OWN,
    ("host", "out_of_band_address"): {"Address": "out_of_band_address"},
    ("server", "address"): _OWN,
    ("appliance", "address"): _OWN,
    ("device", "address"): {**_OWN, "What it is": "what", "Held": "holding"},
    ("service", "address"): {
        "Network": "network_id",
        "Address": "address",
        "Name": "name",
        "Held": "address_origin",
    },
    **{
        (kind, "ipv6_address"): {"Address": "ipv6_address"}
        for kind in ("host", "server", "appliance", "device")
    },
}
NEW = {**FILLED["device", "address"]}  # a row without a key is a new device


@dataclass(frozen=True, slots=True)
class RowKey:
    """``anchor`` names the record and ``part`` the row among its rows; ``edits`` is ``None`` when not known."""

    customer: str
    site: str
    fingerprint: str
    anchor: str
    part: str
    edits: int | None = None

    @property
    def kind(self) -> str:
        return self.anchor.partition("-")[0]

    @property
    def row(self) -> tuple[str, str]:
        return self.anchor, self.part

    def __str__(self) -> str:
        words = [self.customer, self.site, self.fingerprint, self.anchor, self.part]
        return "/".join(words if self.edits is None else [*words, str(self.edits)])


def read_key(text: str) -> RowKey:
    """The key of a cell. Raises ``ValueError`` for anything that no sheet of ours bears."""
    found = _KEY.fullmatch(text.strip())
    if found is None:
        raise ValueError(f"“{text[:60]}” is not a key")
    customer, site, fingerprint, anchor, part, edits = found.groups()
    return RowKey(customer, site, fingerprint, anchor, part, int(edits) if edits else None)
