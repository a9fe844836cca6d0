"""6 Images."""

from planner.record import facts
from sites.models.base import SiteRecord
from sites.models.fields import day, number, one_of, paragraphs, whole, words


class Image(SiteRecord):
    facts = facts.Image
    owns = (("application", "image"),)

    name = words()
    generation = whole()
    source_machine = words()
    operating_system = words()
    bits = whole()
    support_ends = day()
    disk_gib = number()
    used_gib = number()
    activation = words(20)
    remove_or_add = paragraphs()
    sealed_on = day()
    time_zone = words(64)


class Application(SiteRecord):
    facts = facts.Application

    name = words()
    image = one_of("sites.Image")
    licensed_by = words(10)
    licences_held = whole()
