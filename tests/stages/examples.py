"""Two made-up sites that between them need every check and every step of the catalogue."""

from __future__ import annotations

import datetime as dt

from planner.record import facts as f
from planner.record.facts import SiteFacts
from tests.factories import TODAY, make, site_facts

WEEK = ("1", "2", "3", "4", "5")


def clinic(purpose: str = "live", **values) -> SiteFacts:
    """A live site that has about everything: directory, three hosts, two appliances, access from outside."""
    management = make(
        f.Network,
        name="management",
        purpose="management",
        vlan=10,
        cidr="10.44.0.0/24",
        gateway="10.44.0.1",
        dhcp="none",
        domain_suffix="corp.larkfield.example",
    )
    desktops = make(
        f.Network,
        name="desktops",
        purpose="desktops",
        vlan=1040,
        cidr="10.44.1.0/24",
        gateway="10.44.1.1",
        dhcp="range",
        dhcp_first="10.44.1.100",
        dhcp_last="10.44.1.240",
        lease_minutes=1440,
        dhcp_server="dc-1",
        dns_servers=("10.44.0.5", "10.44.0.6"),
        domain_suffix="corp.larkfield.example",
    )
    hosts = [
        make(
            f.Host,
            name=f"mill-h{number}",
            model="rack server",
            state=state,
            sockets=2,
            cores_per_socket=8,
            memory_gib=96.0,
            hypervisor="release 8.2",
            management_name=f"mill-h{number}.corp.larkfield.example",
            network_id=management.id,
            address=f"10.44.0.1{number}",
            out_of_band_address=f"10.44.0.2{number}",
            network_label="desktops-40",
            time_source="10.44.0.5",
            weight_kg=28.0,
            rack_units=2,
            rated_watts=750.0,
        )
        for number, state in enumerate(("existing", "to-buy", "spare"), start=1)
    ]
    stores = [
        make(
            f.Datastore,
            name="h1-local",
            sharing="local",
            host_id=hosts[0].id,
            raid="10",
            disks=5,
            disk_gb=960.0,
            others_gib=0.0,
            hot_spares=1,
            throughput_mb_s=500.0,
            provisioning="thick",
        ),
        make(
            f.Datastore,
            name="shelf",
            sharing="shared",
            raid="6",
            disks=8,
            disk_gb=1920.0,
            others_gib=0.0,
            hot_spares=1,
            throughput_mb_s=900.0,
            provisioning="thick",
        ),
    ]
    appliances = [
        make(
            f.Appliance,
            name=f"broker-{number}",
            host_id=hosts[number - 1].id,
            datastore_id=stores[0].id,
            network_id=management.id,
            address=f"10.44.0.3{number}",
            vcpu=4,
            memory_gib=8.0,
            disk_gib=60.0,
        )
        for number in (1, 2)
    ]
    rdp = make(f.Protocol, name="RDP", tcp_port=3389, udp_port=3389)
    images = [
        make(
            f.Image,
            name=name,
            generation=1,
            source_machine=f"{name}-2",
            operating_system="desktop system, release 2",
            bits=64,
            support_ends=dt.date(2029, 10, 9),
            disk_gib=80.0,
            used_gib=46.0,
            activation=activation,
            remove_or_add="Remove the sound card.",
            time_zone="Europe/Vienna",
        )
        for name, activation in (
            ("office", "key-server"),
            ("lab", "multiple-key"),
            ("front", "subscription"),
        )
    ]
    applications = [
        make(
            f.Application,
            name=f"records {image.name}",
            image_id=image.id,
            licensed_by="people",
            licences_held=40,
        )
        for image in images
    ]
    templates = [
        make(
            f.Template,
            name=image.name,
            image_id=image.id,
            network_id=desktops.id,
            memory_gib=4.0,
            vcpu=2,
            most=12,
            standby=3,
            reset_rule=rule,
            name_prefix=f"mill-{image.name[:2]}-",
            name_digits=3,
            growth_gib=6.0,
            protocol_id=rdp.id,
            passes=("clipboard", "printers", "usb", "sound"),
            profile_place="profile share",
        )
        for image, rule in zip(images, ("sign-out", "kept", "nightly"), strict=True)
    ]
    groups = [
        make(
            f.SeatGroup,
            name=f"{template.name} people",
            template_id=template.id,
            seat_kind="group",
            people=12,
            share_at_once=0.75,
            arrive_around=dt.time(7, 45),
            arrive_spread_minutes=15.0,
            network_id=desktops.id,
        )
        for template in templates
    ]
    site = f.Site(
        id=1,
        name="Mill Street",
        code="mill",
        purpose=purpose,
        street_address="12 Mill Street",
        time_zone="Europe/Vienna",
        on_site_date=dt.date(2026, 4, 9),
        go_live_date=dt.date(2026, 4, 13),
        work_starts=dt.time(7, 30),
        work_ends=dt.time(17),
        work_days=WEEK,
        people_count=36,
        scope="Desktops for 36.",
        way_in="Front door.",
    )
    return site_facts(
        site,
        management,
        desktops,
        *hosts,
        *stores,
        *appliances,
        rdp,
        *images,
        *applications,
        *templates,
        *groups,
        *(
            make(f.Contact, name=f"The {role}", role=role, phone="+43 1 555 0100")
            for role in (
                "decision",
                "keys",
                "directory",
                "network",
                "supplier",
                "pilot",
                "technician",
            )
        ),
        make(
            f.Server,
            name="dc-1",
            address="10.44.0.5",
            network_id=management.id,
            roles=("directory", "dns", "dhcp", "time", "keys", "print"),
        ),
        make(
            f.Server,
            name="dc-2",
            address="10.44.0.6",
            network_id=management.id,
            roles=("directory", "dns"),
        ),
        f.Directory(
            id=1,
            directory_kind="domain",
            domain="corp.larkfield.example",
            netbios="LARKFIELD",
            desktop_ou="OU=Desktops,DC=corp,DC=larkfield,DC=example",
            join_account="svc-join",
            join_rights="join-only",
            time_source="ntp.example.net",
            time_zone="Europe/Vienna",
            sign_in_policy="“Desktop users”",
        ),
        f.Service(
            id=1,
            name="Mill Street desktops",
            entry_name="desk.larkfield.example",
            network_id=management.id,
            address="10.44.0.30",
            address_origin="fixed",
            initial_secret_changed=True,
            disk_provisioning="thick",
            certificate="issued",
            certificate_names=("desk.larkfield.example",),
            certificate_authority="public",
            certificate_issued=dt.date(2026, 2, 20),
            certificate_expires=dt.date(2027, 3, 1),
            certificate_renewal="machine",
            agent_ports=("8443/tcp",),
            outside_access="gateway",
            outside_ports=("443/tcp",),
            public_address="203.0.113.30",
            second_factor="code of an app",
            backup_place="backup share",
        ),
        make(
            f.Credential,
            name="hypervisor administrator",
            account="root",
            privilege="everything on the hosts",
            where_kept="office safe",
            who_can_fetch="A. Marsh",
            last_changed=TODAY,
            still_initial=False,
        ),
        make(
            f.Credential,
            name="join account of the domain",
            account="svc-join",
            privilege="joins computers",
            where_kept="office safe",
            who_can_fetch="A. Marsh",
            last_changed=TODAY,
            still_initial=False,
        ),
        **values,
    )


def bench(**values) -> SiteFacts:
    """A trial with accounts of the service itself, its own certificate and thin disks."""
    full = clinic(purpose="trial", **values)
    return f.from_json(
        {
            **f.to_json(full),
            "directory": {
                "id": 1,
                "directory_kind": "own-accounts",
                "time_source": "ntp.example.net",
            },
            "service": {
                **f.to_json(full)["service"],
                "certificate": "own",
                "disk_provisioning": "thin",
                "space_watcher": "A. Marsh, each Monday",
                "outside_access": "none",
            },
        }
    )


def bare(**values) -> SiteFacts:
    """One record of each kind, of which nothing is known, and each refers to the others where it can."""
    kinds = (
        f.Network,
        f.Host,
        f.Datastore,
        f.Server,
        f.Appliance,
        f.Appliance,
        f.Protocol,
        f.Credential,
        f.Image,
        f.Application,
        f.Template,
        f.SeatGroup,
    )
    return site_facts(*(make(kind) for kind in kinds), **values)


def empty(**values) -> SiteFacts:
    """A site of which nothing is known but its name."""
    return site_facts(**values)
