"""10 Stages, 7 Pilot: links to the acceptance sheet, and what pilot people wrote on it."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from sites.models.fields import words


class PilotLink(models.Model):
    """Opens one site's acceptance sheet to one pilot person until it ends. Only the token's hash is kept."""

    site = models.ForeignKey("sites.Site", models.CASCADE, related_name="+")
    person = words(120)
    token_hash = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, related_name="+"
    )
    made_at = models.DateTimeField(auto_now_add=True)
    ends_at = models.DateTimeField()
    taken_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-made_at", "-pk"]
        indexes = [models.Index(fields=["site", "-made_at"])]

    def __str__(self) -> str:
        return f"the sheet of {self.person or 'a pilot person'}"


class PilotResult(models.Model):
    """What one pilot person found of one thing; written anew when they change their mind."""

    link = models.ForeignKey(PilotLink, models.CASCADE, related_name="results")
    check_key = models.CharField(max_length=160)
    state = models.CharField(max_length=10)
    note = models.TextField(max_length=1000, blank=True)
    at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["link", "check_key"], name="one_result_a_question")
        ]

    def __str__(self) -> str:
        return f"{self.check_key}: {self.state}"
