"""What steps and checks beyond the catalogue consist of, and those that the whole house asks for."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from simple_history.models import HistoricalRecords

from planner.record import facts
from planner.record.choices import Choice
from sites.models.base import Stamped
from sites.models.fields import day, number, paragraphs, several, words, yes_no


class WorkKind(Choice):
    STEP = "step"
    CHECK = "check"


class Asked(models.Model):
    """What a stage asks for."""

    name = words(300)
    stage = models.BigIntegerField(default=1)

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return self.name


class StepWords(Asked):
    """What a step says and how long it takes."""

    do = paragraphs()
    expect = paragraphs()
    otherwise = paragraphs()
    back = paragraphs()
    caution = paragraphs()
    least_minutes = number()
    likely_minutes = number()
    longest_minutes = number()
    attended = yes_no()
    alone = yes_no()
    after = several()
    before = several()

    class Meta:
        abstract = True


class CheckWords(Asked):
    """What a check asks and what proves it."""

    why = paragraphs()
    how = paragraphs()
    proof = paragraphs()
    wants = words(10)
    unit = words(20)
    low = number()
    high = number()
    who = words(10)

    class Meta:
        abstract = True


class HouseWork(StepWords, CheckWords, Stamped):
    """A step or a check that the house asks for at every site where ``when`` holds.

    Both stand in one table, so that reading a site takes one query for them. ``ended_at`` is when the house
    stopped asking for it; its row stays, because answers name it.
    """

    KINDS: ClassVar[dict[str, type[facts.Record]]] = {
        WorkKind.STEP: facts.HouseStep,
        WorkKind.CHECK: facts.HouseCheck,
    }
    # What only a site's own step has: one of the house names others by their keys, and no site's contact.
    after_own: tuple[int, ...] = ()
    owner_id: int | None = None

    what = models.CharField(max_length=5, choices=WorkKind.pairs())
    when = words(60)
    ownstep = models.ForeignKey("self", models.SET_NULL, null=True, blank=True, related_name="+")
    ended_at = models.DateTimeField(null=True)
    history = HistoricalRecords(cascade_delete_history=False, history_change_reason_field=None)

    class Meta:
        ordering = ["pk"]

    @property
    def key(self) -> str:
        """What answers and lines of run sheets are kept under."""
        return f"house@{self.KINDS[self.what].kind}-{self.pk}"


class HouseEstimate(models.Model):
    """The house's three times for a step of the catalogue, in minutes."""

    step = models.CharField(max_length=100, unique=True)
    least_minutes = models.FloatField()
    likely_minutes = models.FloatField()
    longest_minutes = models.FloatField()
    note = paragraphs()
    set_on = day()
    history = HistoricalRecords(cascade_delete_history=False, history_change_reason_field=None)

    class Meta:
        ordering = ["step"]

    def __str__(self) -> str:
        return self.step
