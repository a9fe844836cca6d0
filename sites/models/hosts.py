"""3 Hosts."""

from planner.record import facts
from sites.models.base import SiteRecord
from sites.models.fields import number, one_of, whole, words


class Host(SiteRecord):
    facts = facts.Host
    owns = (("datastore", "host"),)

    name = words()
    model = words()
    state = words(10)
    sockets = whole()
    cores_per_socket = whole()
    clock_ghz = number()
    memory_gib = number()
    hypervisor = words()
    management_name = words(255)
    network = one_of("sites.Network")
    address = words(15)
    out_of_band_address = words(15)
    ipv6_address = words(39)
    mac = words(17)
    network_label = words()
    time_source = words()
    weight_kg = number()
    rack_units = whole()
    rated_watts = number()


class Datastore(SiteRecord):
    facts = facts.Datastore

    name = words()
    sharing = words(10)
    reached_by = words(10)
    host = one_of("sites.Host")
    raid = words(4)
    disks = whole()
    disk_gb = number()
    hot_spares = whole()
    disk_operations = number()
    throughput_mb_s = number()
    provisioning = words(10)
    others_gib = number()
