"""5 Service."""

from planner.record import facts
from sites.models.base import SiteRecord
from sites.models.fields import day, number, one_of, several, whole, words, yes_no


class Service(SiteRecord):
    """One a site; made with it."""

    facts = facts.Service

    name = words()
    entry_name = words(255)
    network = one_of("sites.Network")
    address = words(15)
    address_origin = words(10)
    initial_secret_changed = yes_no()
    disk_provisioning = words(10)
    space_watcher = words()
    certificate = words(10)
    certificate_names = several()
    certificate_authority = words(10)
    certificate_issued = day()
    certificate_expires = day()
    certificate_renewal = words(10)
    agent_ports = several()
    outside_access = words(10)
    outside_device = one_of("sites.Device")
    outside_ports = several()
    public_address = words(15)
    second_factor = words()
    hypervisor_ports = several()
    appliance_ports = several()
    copy_ports = several()
    backup_place = words()


class Appliance(SiteRecord):
    facts = facts.Appliance

    name = words()
    host = one_of("sites.Host")
    datastore = one_of("sites.Datastore")
    network = one_of("sites.Network")
    address = words(15)
    ipv6_address = words(39)
    mac = words(17)
    vcpu = whole()
    memory_gib = number()
    disk_gib = number()


class Protocol(SiteRecord):
    facts = facts.Protocol

    name = words()
    tcp_port = whole()
    udp_port = whole()


class Credential(SiteRecord):
    """Whose account, what it may do, where its secret is kept: never the secret."""

    facts = facts.Credential

    name = words()
    account = words()
    privilege = words()
    where_kept = words()
    who_can_fetch = words()
    last_changed = day()
    still_initial = yes_no()
