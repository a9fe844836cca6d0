"""11 Revisions and papers."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from planner.record import facts
from sites.models.base import SiteRecord
from sites.models.fields import words


class Built(SiteRecord):
    """What was really built where it differs from the plan."""

    facts = facts.Built

    target = words(60)
    field = words(60)
    value = words(1000)
    reason = words(1000)


class Revision(models.Model):
    """A frozen, lettered copy of the plan: ``content`` is planner.record.facts.to_json."""

    site = models.ForeignKey("sites.Site", models.CASCADE, related_name="revisions")
    letter = models.CharField(max_length=4)
    number = models.PositiveIntegerField()
    reason = models.TextField(max_length=2000)
    fingerprint = models.CharField(max_length=9)
    content = models.JSONField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["site", "number"], name="one_revision_a_number")
        ]

    def __str__(self) -> str:
        return f"revision {self.letter}"


class Printed(models.Model):
    """A paper that left the tool: which, when, by whom, with which fingerprint."""

    site = models.ForeignKey("sites.Site", models.CASCADE, related_name="+")
    paper = models.CharField(max_length=40)
    letter = models.CharField(max_length=4, blank=True)
    fingerprint = models.CharField(max_length=9)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return self.paper
