"""The kinds of configurations that the plan can be written as: one entry a kind."""

from __future__ import annotations

from planner.papers.configs.dnsmasq import dnsmasq
from planner.papers.configs.firewall import firewall
from planner.papers.configs.hosts_file import hosts_file
from planner.papers.configs.kea import kea
from planner.papers.configs.parts import Kind
from planner.papers.configs.zones import zones

TEXT = "text/plain; charset=utf-8"
_KINDS = (
    Kind(
        "dhcp-kea",
        "{site}-dhcp-kea-{revision}.json",
        "DHCP, for the Kea server",
        "The networks' ranges, what their clients are told, lease times and reservations.",
        "application/json",
        kea,
    ),
    Kind(
        "dhcp-dnsmasq",
        "{site}-dhcp-dnsmasq-{revision}.conf",
        "DHCP, for dnsmasq",
        "The same ranges, options and reservations for a small server.",
        TEXT,
        dnsmasq,
    ),
    Kind(
        "zones",
        "{site}-zones-{revision}.zip",
        "Zone files, forward and reverse",
        "The names of hosts, servers, appliances, devices and of the entry, and the names of their addresses.",
        "application/zip",
        zones,
        several=True,
    ),
    Kind(
        "firewall",
        "{site}-firewall-{revision}.nft",
        "Firewall rules, in the syntax of nft",
        "The flows that cross a firewall, everything else dropped.",
        TEXT,
        firewall,
    ),
    Kind(
        "hosts",
        "{site}-hosts-{revision}.txt",
        "Hosts file",
        "Names to try with on one machine before DNS knows them.",
        TEXT,
        hosts_file,
    ),
)
CONFIGS: dict[str, Kind] = {kind.slug: kind for kind in _KINDS}
