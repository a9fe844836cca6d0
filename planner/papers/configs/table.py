"""The kinds of configurations that the plan can be written as: one entry a kind."""

from __future__ import annotations

from planner.papers.configs import dnsmasq, firewall, hosts_file, kea, zones
from planner.papers.configs.parts import Kind

TEXT = "text/plain; charset=utf-8"
_KINDS = (
    Kind(
        "dhcp-kea",
        "{site}-dhcp-kea-{revision}.json",
        "DHCP, for the Kea server",
        "The networks' ranges, what their clients are told, lease times and reservations.",
        "application/json",
        kea.kea,
        kea.lacking,
    ),
    Kind(
        "dhcp-dnsmasq",
        "{site}-dhcp-dnsmasq-{revision}.conf",
        "DHCP, for dnsmasq",
        "The same ranges, options and reservations for a small server.",
        TEXT,
        dnsmasq.dnsmasq,
        dnsmasq.lacking,
    ),
    Kind(
        "zones",
        "{site}-zones-{revision}.zip",
        "Zone files, forward and reverse",
        "The names of hosts, servers, appliances, devices and of the entry, and the names of their addresses.",
        "application/zip",
        zones.zones,
        zones.lacking,
        several=True,
    ),
    Kind(
        "firewall",
        "{site}-firewall-{revision}.nft",
        "Firewall rules, in the syntax of nft",
        "The flows that cross a firewall, everything else dropped.",
        TEXT,
        firewall.firewall,
        firewall.lacking,
    ),
    Kind(
        "hosts",
        "{site}-hosts-{revision}.txt",
        "Hosts file",
        "Names to try with on one machine before DNS knows them.",
        TEXT,
        hosts_file.hosts_file,
        hosts_file.lacking,
    ),
)
CONFIGS: dict[str, Kind] = {kind.slug: kind for kind in _KINDS}
