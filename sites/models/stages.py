"""10 Stages: answers, own checks, gates signed."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from planner import facts
from sites.models.base import SiteRecord
from sites.models.fields import paragraphs, words


class OwnCheck(SiteRecord):
    facts = facts.OwnCheck

    name = words(300)
    stage = models.BigIntegerField(default=1)
    why = paragraphs()
    how = paragraphs()


class Answer(models.Model):
    """One answer to one check. Answers are added, never changed: the newest one counts."""

    site = models.ForeignKey("sites.Site", models.CASCADE, related_name="+")
    check_key = models.CharField(max_length=160)
    state = models.CharField(max_length=10)
    proof = models.TextField(max_length=4000, blank=True)
    reopened = models.BooleanField(default=False)
    newest = models.BooleanField(default=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["site", "check_key"])]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "check_key"], condition=models.Q(newest=True), name="one_newest_answer_a_check"
            )
        ]

    def __str__(self) -> str:
        return f"{self.check_key}: {self.state}"


class Signature(models.Model):
    """A lead signed a gate; what the name was put to is kept with it."""

    site = models.ForeignKey("sites.Site", models.CASCADE, related_name="+")
    stage = models.PositiveSmallIntegerField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    on_trust = models.JSONField(default=list)
    excused = models.JSONField(default=list)
    checks = models.JSONField(default=list)
    fingerprint = models.CharField(max_length=9)
    withdrawn_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "stage"], condition=models.Q(withdrawn_at=None), name="one_signature_a_gate"
            )
        ]

    def __str__(self) -> str:
        return f"gate {self.stage}"
