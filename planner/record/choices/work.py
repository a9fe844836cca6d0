"""Choices of the work and of what people say about the plan: stages, checks, answers, planning numbers, roles."""

from __future__ import annotations

from planner.record.choices.base import Choice


class StageNumber(Choice):
    """Kept as a number."""

    SURVEY = "1", "1 Survey"
    GROUND = "2", "2 Ground"
    HOSTS = "3", "3 Hosts"
    SERVICE = "4", "4 Service"
    IMAGE = "5", "5 Image"
    DESKTOPS = "6", "6 Desktops"
    PILOT = "7", "7 Pilot"
    HANDOVER = "8", "8 Handover"


class Wanted(Choice):
    """What proves a check."""

    NOTE = "note", "a note"
    VALUE = "value", "a value read"
    PHOTO = "photo", "a photo or a file"
    PROBE = "probe", "a probe's result"


class Answerer(Choice):
    """The least role that may answer a check."""

    EDITOR = "editor", "an editor"
    LEAD = "lead", "a lead"


class Role(Choice):
    """What a person may do at a customer, from the least on."""

    READER = "reader"
    EDITOR = "editor"
    LEAD = "lead"


class AnswerState(Choice):
    OPEN = "open"
    PROVEN = "proven"
    TRUST = "trust", "on trust"
    EXCUSED = "excused"
    FAILED = "failed"


class NumberOrigin(Choice):
    """Where a planning number comes from."""

    MEASURED = "measured", "measured here"
    SUPPLIER = "supplier", "supplier's figure"
    HOUSE_RULE = "house-rule", "house rule"
    COMMON_PRACTICE = "common-practice", "common practice"
    STANDARD = "standard"
    PUBLISHER = "publisher", "publisher's page"
    QUOTED = "quoted", "as quoted"
    REPORT = "report", "one report"
    PUBLISHED = "published"


CITED = (  # numbers that bear a source to be looked up, the surest first
    NumberOrigin.STANDARD,
    NumberOrigin.PUBLISHER,
    NumberOrigin.PUBLISHED,
    NumberOrigin.QUOTED,
    NumberOrigin.REPORT,
)


class NumberScope(Choice):
    """Whose value of a planning number it is: a site's own goes before the house's."""

    CATALOGUE = "catalogue"
    HOUSE = "house"
    SITE = "site"
