"""The large demo site: 12 hosts, 25 networks, 20 templates, 600 people. Written by rule, not by hand."""

from __future__ import annotations

from planner.record.choices import NetworkPurpose

HOSTS, NETWORKS, TEMPLATES, PEOPLE = 12, 25, 20, 600


def large_site() -> dict:
    """Its content, as the demo's TOML files have it."""
    nets = [_network(number) for number in range(NETWORKS)]
    return {
        "customer": {"name": "Northmere College", "code": "northmere", "reference": "C-2210"},
        "site": {
            "code": "campus",
            "name": "Main campus",
            "purpose": "live",
            "people_count": PEOPLE,
            "time_zone": "Europe/Dublin",
            "on_site_date": "2027-02-16",
            "go_live_date": "2027-02-22",
            "work_starts": "07:00",
            "work_ends": "18:00",
            "work_days": ["1", "2", "3", "4", "5"],
        },
        "networks": nets,
        "devices": [_device(number) for number in range(120)],
        "hosts": [_host(number) for number in range(HOSTS)],
        "datastores": [_store(number) for number in range(HOSTS)],
        "directory": {
            "directory_kind": "domain",
            "domain": "ad.northmere.example",
            "netbios": "NORTHMERE",
            "desktop_ou": "OU=Desktops,DC=ad,DC=northmere,DC=example",
            "join_account": "svc-join",
            "join_rights": "join-only",
            "time_zone": "Europe/Dublin",
            "time_source": "ntp.example.net",
            "ldaps": "yes",
        },
        "servers": [
            {
                "name": f"dc-{n}",
                "network": "management",
                "address": f"10.60.0.{4 + n}",
                "roles": ["directory", "dns", "dhcp", "time", "keys"],
                "stands": "own",
            }
            for n in (1, 2)
        ],
        "service": {
            "name": "Campus desktops",
            "entry_name": "desk.northmere.example",
            "network": "management",
            "address": "10.60.0.40",
            "address_origin": "fixed",
            "initial_secret_changed": "yes",
            "disk_provisioning": "thick",
            "certificate": "issued",
            "certificate_expires": "2027-12-01",
            "certificate_names": "*.northmere.example",
            "certificate_authority": "private",
            "certificate_issued": "2026-11-02",
            "certificate_renewal": "hand",
            "outside_access": "gateway",
            "public_address": "203.0.113.40",
            "second_factor": "code of an app, asked by the gateway",
            "agent_ports": "8443/tcp",
            "hypervisor_ports": "443/tcp",
            "appliance_ports": "8444/tcp",
            "copy_ports": "8445/tcp",
            "backup_place": "backup server, every night",
        },
        "appliances": [
            {
                "name": f"broker-{n}",
                "host": f"campus-h{n:02}",
                "network": "management",
                "address": f"10.60.0.{40 + n}",
                "vcpu": 4,
                "memory_gib": 16,
                "disk_gib": 80,
            }
            for n in (1, 2, 3)
        ],
        "protocols": [{"name": "RDP", "tcp_port": 3389, "udp_port": 3389}],
        "images": [
            {
                "name": name,
                "generation": 3,
                "operating_system": "desktop system, education edition",
                "disk_gib": 120,
                "used_gib": 70,
                "activation": "key-server",
                "bits": "64",
                "support_ends": "2029-10-09",
                "source_machine": f"lab-{name}",
            }
            for name in ("office", "studio", "lab")
        ],
        "templates": [_template(number) for number in range(TEMPLATES)],
        "seats": [_seats(number) for number in range(TEMPLATES)],
    }


def _network(number: int) -> dict:
    if number == 0:
        return {
            "name": "management",
            "purpose": "management",
            "vlan": 10,
            "cidr": "10.60.0.0/24",
            "mtu": 1500,
            "gateway": "10.60.0.1",
            "dhcp": "none",
            "dns_servers": "10.60.0.5, 10.60.0.6",
            "link_mbit_s": "10 Gbit/s",
        }
    purpose, third, prefix, last = "clients", number, 24, number
    if number <= 8:  # a night's old leases beside the desktops: twice the room
        purpose, third, prefix, last = "desktops", 100 + 2 * number, 23, 101 + 2 * number
    return {
        "name": f"{purpose}-{number:02}",
        "purpose": purpose,
        "vlan": 100 + number,
        "cidr": f"10.60.{third}.0/{prefix}",
        "gateway": f"10.60.{third}.1",
        "dhcp": "range",
        "dhcp_first": f"10.60.{third}.50",
        "dhcp_last": f"10.60.{last}.250",
        "lease_minutes": "1 day",
        "dhcp_server": "dc-1",
        "other_dhcp_clients": 0 if purpose == NetworkPurpose.DESKTOPS else 60,
        "dns_servers": "10.60.0.5, 10.60.0.6",
        "domain_suffix": "ad.northmere.example",
        "link_mbit_s": "10 Gbit/s",
        "mtu": 1500,
    }


def _device(number: int) -> dict:
    net = 9 + number % 16
    return {
        "name": f"printer-{number + 1:03}",
        "what": "printer",
        "network": f"clients-{net:02}",
        "holding": "fixed",
        "address": f"10.60.{net}.{20 + number // 16}",
        "mac": f"00:00:5e:00:53:{number:02x}",
    }


def _host(number: int) -> dict:
    return {
        "name": f"campus-h{number + 1:02}",
        "state": "existing",
        "sockets": 2,
        "cores_per_socket": 24,
        "memory_gib": 512,
        "network": "management",
        "address": f"10.60.0.{11 + number}",
        "hypervisor": "release 8.2",
        "out_of_band_address": f"10.60.0.{100 + number}",
        "network_label": "desktops",
        "time_source": "10.60.0.5",
        "weight_kg": 27,
        "rack_units": 2,
        "rated_watts": 900,
        "clock_ghz": "2.8",
    }


def _store(number: int) -> dict:
    return {
        "name": f"h{number + 1:02}-local",
        "sharing": "local",
        "host": f"campus-h{number + 1:02}",
        "raid": "10",
        "disks": 8,
        "hot_spares": 0,
        "disk_gb": 1920,
        "provisioning": "thick",
        "disk_operations": 20000,
        "others_gib": 0,
    }


def _template(number: int) -> dict:
    return {
        "name": f"course {number + 1:02}",
        "image": ("office", "studio", "lab")[number % 3],
        "network": f"desktops-{1 + number % 8:02}",
        "memory_gib": (4, 6, 8)[number % 3],
        "vcpu": 2,
        "most": 29,
        "standby": 6,
        "reset_rule": ("sign-out", "nightly")[number % 2],
        "name_prefix": f"nm-c{number + 1:02}-",
        "name_digits": 3,
        "growth_gib": 6,
        "protocol": "RDP",
        "profile_place": "profile share on files-1",
    }


def _seats(number: int) -> dict:
    return {
        "name": f"Course {number + 1:02} students",
        "seat_kind": "group",
        "template": f"course {number + 1:02}",
        "people": PEOPLE // TEMPLATES,
        "share_at_once": "80 %",
        "arrive_around": f"08:{number * 2:02}",
        "arrive_spread_minutes": "10 min",
        "sign_ins_a_day": 2,
        "network": f"clients-{9 + number % 16:02}",
        "kbit_s": 400,
    }
