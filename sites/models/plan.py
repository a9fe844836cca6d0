"""8 and 9: assumptions set anew, own flows; and the findings a lead accepted."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from simple_history.models import HistoricalRecords

from planner.record import facts
from planner.record.choices import NumberOrigin
from sites.models.base import SiteRecord
from sites.models.fields import day, number, one_of, paragraphs, words


class OwnFlow(SiteRecord):
    facts = facts.OwnFlow

    name = words()
    from_network = one_of("sites.Network")
    from_what = words()
    to_network = one_of("sites.Network")
    to_what = words()
    transport = words(4)
    ports = words(100)


class Assumed(models.Model):
    """A site's own value of a planning number."""

    site = models.ForeignKey("sites.Site", models.CASCADE, related_name="+")
    key = models.CharField(max_length=80)
    value = number()
    origin = models.CharField(max_length=20, default=NumberOrigin.HOUSE_RULE.value)
    set_on = day()
    note = paragraphs()
    history = HistoricalRecords(cascade_delete_history=False, history_change_reason_field=None)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["site", "key"], name="one_assumption_a_key")]

    def __str__(self) -> str:
        return self.key


class Acceptance(models.Model):
    """A lead lives with a finding until a day to look again; ``withdrawn_at`` keeps the history."""

    site = models.ForeignKey("sites.Site", models.CASCADE, related_name="+")
    finding = models.CharField(max_length=200)
    title = models.CharField(max_length=400)
    reason = models.TextField(max_length=2000)
    look_again = models.DateField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    withdrawn_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["site", "finding"])]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "finding"],
                condition=models.Q(withdrawn_at=None),
                name="one_standing_acceptance_of_a_finding",
            )
        ]

    def __str__(self) -> str:
        return self.title
