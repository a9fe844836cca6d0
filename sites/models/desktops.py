"""7 Desktops and seating."""

from planner.record import facts
from sites.models.base import SiteRecord
from sites.models.fields import clock, number, one_of, paragraphs, several, whole, words


class Template(SiteRecord):
    facts = facts.Template

    name = words()
    description = paragraphs()
    image = one_of("sites.Image")
    network = one_of("sites.Network")
    memory_gib = number()
    vcpu = whole()
    most = whole()
    standby = whole()
    reset_rule = words(10)
    name_prefix = words(30)
    name_digits = whole()
    growth_gib = number()
    protocol = one_of("sites.Protocol")
    passes = several()
    profile_place = words()


class SeatGroup(SiteRecord):
    facts = facts.SeatGroup

    name = words()
    template = one_of("sites.Template")
    seat_kind = words(10)
    people = whole()
    share_at_once = number()
    arrive_around = clock()
    arrive_spread_minutes = number()
    sign_ins_a_day = number()
    network = one_of("sites.Network")
    kbit_s = number()
