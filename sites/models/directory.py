"""4 Directory."""

from planner.record import facts
from sites.models.base import SiteRecord
from sites.models.fields import one_of, paragraphs, several, words, yes_no


class Directory(SiteRecord):
    """One a site; made with it."""

    facts = facts.Directory

    directory_kind = words(20)
    domain = words(255)
    netbios = words(30)
    desktop_ou = words(1000)
    join_account = words()
    join_rights = words(20)
    time_source = words()
    time_zone = words(64)
    ldaps = yes_no()
    sign_in_policy = paragraphs()


class Server(SiteRecord):
    facts = facts.Server

    name = words()
    network = one_of("sites.Network")
    address = words(15)
    ipv6_address = words(39)
    mac = words(17)
    roles = several()
    stands = words(10)
