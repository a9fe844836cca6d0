"""What every record has: a site, a note, who and when, an edit counter, a history, and a way back
from removal."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from simple_history.models import HistoricalRecords

from planner.record.facts import Record
from sites.models.fields import paragraphs

MADE_BY = {
    "on_delete": models.SET_NULL,
    "null": True,
    "blank": True,
    "related_name": "+",
    "editable": False,
}


class Removal(models.Model):
    """One act of removing records: what was removed together can be brought back together."""

    site = models.ForeignKey("sites.Site", models.CASCADE, related_name="removals")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    what = models.CharField(max_length=300)
    undone_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["site", "-at"])]

    def __str__(self) -> str:
        return self.what


class Stamped(models.Model):
    """Who made and last changed it and when, and how often: the edit counter."""

    edits = models.PositiveIntegerField(default=1, editable=False)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, **MADE_BY)
    made_at = models.DateTimeField(auto_now_add=True)
    changed_by = models.ForeignKey(settings.AUTH_USER_MODEL, **MADE_BY)
    changed_at = models.DateTimeField(auto_now=True)
    note = paragraphs()

    class Meta:
        abstract = True


class RecordQuerySet(models.QuerySet):
    def present(self) -> RecordQuerySet:
        """Records that nobody removed."""
        return self.filter(removal=None)


class SiteRecord(Stamped):
    """One record of a site. ``facts`` is the dataclass it is read into; its fields have the same
    names. ``owns`` names the kinds (and their field) that cannot stand without this record: they
    are removed with it."""

    facts: ClassVar[type[Record]]
    owns: ClassVar[tuple[tuple[str, str], ...]] = ()

    site = models.ForeignKey("sites.Site", models.CASCADE, related_name="+")
    removal = models.ForeignKey(
        Removal, models.SET_NULL, null=True, blank=True, editable=False, related_name="+"
    )
    history = HistoricalRecords(
        inherit=True, cascade_delete_history=False, history_change_reason_field=None
    )

    objects = RecordQuerySet.as_manager()

    class Meta:
        abstract = True
        ordering = ["pk"]

    def __str__(self) -> str:
        return getattr(self, "name", "") or f"{self.facts.kind} {self.pk}"

    @property
    def anchor(self) -> str:
        return f"{self.facts.kind}-{self.pk}"
