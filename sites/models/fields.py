"""Columns that the record needs beyond Django's own."""

from __future__ import annotations

from django.db import models


def words(length: int = 200) -> models.CharField:
    """A short text that may be unknown ("")."""
    return models.CharField(max_length=length, blank=True, default="")


def paragraphs() -> models.TextField:
    """A longer text that may be unknown ("")."""
    return models.TextField(max_length=20_000, blank=True, default="")


def whole() -> models.BigIntegerField:
    """A whole number that may be unknown."""
    return models.BigIntegerField(null=True, blank=True)


def number() -> models.FloatField:
    """A number that may be unknown."""
    return models.FloatField(null=True, blank=True)


def day() -> models.DateField:
    return models.DateField(null=True, blank=True)


def clock() -> models.TimeField:
    return models.TimeField(null=True, blank=True)


def yes_no() -> models.BooleanField:
    return models.BooleanField(null=True, blank=True)


def several() -> models.JSONField:
    """Several words, or the ids of several records, in order."""
    return models.JSONField(default=list, blank=True)


def one_of(kind: str, related_name: str = "+") -> models.ForeignKey:
    """A reference to another record of the same site. A removed record stays referenced, and is read
    as unknown until its removal is undone."""
    return models.ForeignKey(
        kind, models.SET_NULL, null=True, blank=True, related_name=related_name
    )
