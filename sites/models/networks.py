"""2 Networks."""

from planner.record import facts
from sites.models.base import SiteRecord
from sites.models.fields import number, one_of, several, whole, words


class Network(SiteRecord):
    facts = facts.Network

    name = words()
    purpose = words(20)
    vlan = whole()
    cidr = words(18)
    gateway = words(15)
    dhcp = words(10)
    dhcp_first = words(15)
    dhcp_last = words(15)
    lease_minutes = whole()
    dhcp_server = words()
    other_dhcp_clients = whole()
    dns_servers = several()
    domain_suffix = words(255)
    link_mbit_s = number()
    mtu = whole()
    reaches = several()
    ipv6_prefix = words(43)


class Device(SiteRecord):
    facts = facts.Device

    name = words()
    what = words()
    network = one_of("sites.Network")
    address = words(15)
    mac = words(17)
    holding = words(10)
    ipv6_address = words(39)
