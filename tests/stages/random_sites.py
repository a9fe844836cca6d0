"""Sites at random as people plan them: some facts known, some not, references to what is there or to nothing."""

from __future__ import annotations

import datetime as dt
import random
from typing import TypeVar

from planner.record import facts as f
from tests.factories import TODAY

DAY = dt.date(2026, 4, 9)
One = TypeVar("One")


class Maker:
    """One site's records from one seed; the same seed makes the same site."""

    def __init__(self, seed: int):
        self.chance = random.Random(seed)
        self.count = 0

    def id(self) -> int:
        self.count += 1
        return self.count

    def some(self, low: int, high: int) -> range:
        return range(self.chance.randint(low, high))

    def one_of(self, *found: One) -> One:
        return self.chance.choice(found)

    def ref(self, found: tuple) -> int | None:
        """A record that is there, now and then none."""
        return self.chance.choice(found).id if found and self.chance.random() < 0.85 else None

    def networks(self) -> tuple[f.Network, ...]:
        purposes = ("management", "desktops", "clients", "storage", "")
        return tuple(
            f.Network(
                id=self.id(),
                name=f"network {number}",
                purpose=self.one_of(*purposes),
                dhcp=self.one_of("none", "range", "reservations", ""),
                vlan=self.one_of(None, 40 + number),
            )
            for number in self.some(0, 4)
        )

    def hosts(self, networks: tuple) -> tuple[f.Host, ...]:
        return tuple(
            f.Host(
                id=self.id(),
                name=f"host {number}",
                state=self.one_of("existing", "to-buy", "to-buy", "spare", ""),
                weight_kg=self.one_of(None, 9.0, 31.0),
                out_of_band_address=self.one_of("", f"10.0.9.{number + 1}"),
                network_id=self.ref(networks),
            )
            for number in self.some(0, 5)
        )

    def datastores(self, hosts: tuple) -> tuple[f.Datastore, ...]:
        found = []
        for number in self.some(0, 4):
            sharing = self.one_of("local", "local", "shared", "")
            host = self.ref(hosts) if sharing != "shared" else None
            found.append(
                f.Datastore(id=self.id(), name=f"store {number}", sharing=sharing, host_id=host)
            )
        return tuple(found)

    def appliances(self, hosts: tuple, stores: tuple, networks: tuple) -> tuple[f.Appliance, ...]:
        return tuple(
            f.Appliance(
                id=self.id(),
                name=f"appliance {number}",
                host_id=self.ref(hosts),
                datastore_id=self.ref(stores),
                network_id=self.ref(networks),
                address=self.one_of("", f"10.0.8.{number + 1}"),
            )
            for number in self.some(0, 3)
        )

    def images(self) -> tuple[f.Image, ...]:
        kinds = ("", "none", "key-server", "multiple-key", "subscription")
        return tuple(
            f.Image(
                id=self.id(),
                name=f"image {number}",
                source_machine=self.one_of("", "", f"machine {number}"),
                activation=self.one_of(*kinds),
                sealed_on=self.one_of(None, None, DAY - dt.timedelta(days=3)),
            )
            for number in self.some(0, 3)
        )

    def templates(self, images: tuple, networks: tuple) -> tuple[f.Template, ...]:
        return tuple(
            f.Template(
                id=self.id(),
                name=f"template {number}",
                image_id=self.ref(images),
                network_id=self.ref(networks),
                standby=self.one_of(None, 0, 2),
                reset_rule=self.one_of("", "kept", "sign-out", "nightly"),
                profile_place=self.one_of("", "share"),
                passes=tuple(one for one in ("printers", "usb", "sound") if self.one_of(0, 1)),
            )
            for number in self.some(0, 4)
        )

    def groups(self, templates: tuple, networks: tuple) -> tuple[f.SeatGroup, ...]:
        return tuple(
            f.SeatGroup(
                id=self.id(),
                name=f"group {number}",
                template_id=self.ref(templates),
                network_id=self.ref(networks),
            )
            for number in self.some(0, 4)
        )

    def servers(self, networks: tuple) -> tuple[f.Server, ...]:
        return tuple(
            f.Server(id=self.id(), name=f"server {number}", network_id=self.ref(networks))
            for number in self.some(0, 3)
        )

    def site(self) -> f.SiteFacts:
        networks = self.networks()
        hosts = self.hosts(networks)
        stores = self.datastores(hosts)
        images = self.images()
        templates = self.templates(images, networks)
        return f.SiteFacts(
            today=TODAY,
            site=f.Site(
                id=1,
                purpose=self.one_of("live", "trial"),
                on_site_date=DAY,
                work_starts=dt.time(7),
                work_ends=self.one_of(dt.time(15), dt.time(19)),
            ),
            directory=f.Directory(id=1, directory_kind=self.one_of("", "domain", "own-accounts")),
            service=f.Service(
                id=1,
                address=self.one_of("", "10.0.8.30", "10.0.8.1"),
                certificate=self.one_of("", "own", "issued"),
                outside_access=self.one_of("", "none", "vpn", "gateway"),
                disk_provisioning=self.one_of("", "thin", "thick"),
            ),
            networks=networks,
            hosts=hosts,
            datastores=stores,
            appliances=self.appliances(hosts, stores, networks),
            images=images,
            applications=tuple(
                f.Application(id=self.id(), name=f"program {number}", image_id=self.ref(images))
                for number in self.some(0, 3)
            ),
            templates=templates,
            seat_groups=self.groups(templates, networks),
            servers=self.servers(networks),
            contacts=tuple(
                f.Contact(id=self.id(), name=f"Technician {number}", role="technician")
                for number in self.some(0, 4)
            ),
        )


def site(seed: int) -> f.SiteFacts:
    """The site of a seed."""
    return Maker(seed).site()
