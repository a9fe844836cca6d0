"""What the house keeps about itself: whether it is a demo, how often it changed, what was already taken, what was said
to be no secret."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from planner.serving.folders import HouseKind

KINDS = [(one.value, one.words) for one in (HouseKind.DEMO, HouseKind.REAL)]


class HouseMark(models.Model):
    """Says of a database what it is for. There is one row; a start of the other kind refuses."""

    kind = models.CharField(max_length=10, choices=KINDS)
    made_at = models.DateTimeField(auto_now_add=True)
    alone = models.BooleanField(
        default=True, unique=True, editable=False
    )  # two starts at once leave one row

    def __str__(self) -> str:
        return self.kind


class HouseCounter(models.Model):
    """Rises with whatever the house changes in the plans of all sites: its planning numbers, and what people are
    called. There is one row, once something was changed."""

    count = models.PositiveBigIntegerField(default=0)
    alone = models.BooleanField(default=True, unique=True, editable=False)

    def __str__(self) -> str:
        return str(self.count)


class TakenForm(models.Model):
    """A form that was already taken: what came of it. Pressed twice, or sent again, it makes one record."""

    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    token = models.CharField(max_length=64)
    kind = models.CharField(max_length=20)
    record = models.BigIntegerField()
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["by", "token"], name="one_record_a_form")]
        indexes = [models.Index(fields=["at"])]

    def __str__(self) -> str:
        return f"{self.kind} {self.record}"


class SaidHarmless(models.Model):
    """A text that looks like a secret and of which somebody said that it is none. Its digest alone is kept."""

    site = models.ForeignKey("sites.Site", models.CASCADE, null=True, related_name="+")
    digest = models.CharField(max_length=64)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "digest"], name="said_harmless_once"),
            models.UniqueConstraint(
                fields=["digest"], condition=models.Q(site=None), name="said_harmless_in_house"
            ),
        ]

    def __str__(self) -> str:
        return f"said harmless at {self.site or 'the house'}"
