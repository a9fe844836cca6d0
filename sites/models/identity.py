"""How somebody comes in: invitations to a role, and letters that prove an address.

A secret goes out once and is never kept: a row holds its SHA-256 alone.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from planner.record.choices import Role

STAFF = "staff"  # the role of an invitation to the house itself
OFFERED = {**Role.as_choices(), STAFF: "house staff"}


class InvitationQuerySet(models.QuerySet):
    def standing(self, now) -> InvitationQuerySet:
        """Invitations that may still be accepted."""
        return self.filter(accepted_at=None, ended_at=None, ends_at__gt=now)


class Invitation(models.Model):
    """A role offered to whoever holds the secret: one customer (``None``: the house), one role, one address,
    one inviter. Accepting it makes the membership; naming an address makes none."""

    customer = models.ForeignKey(
        "sites.Customer", models.CASCADE, null=True, related_name="invitations"
    )
    role = models.CharField(max_length=10, choices=list(OFFERED.items()))
    email = models.EmailField("e-mail")
    name = models.CharField(max_length=120, blank=True)
    inviter = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    digest = models.CharField(max_length=64, unique=True)
    by_letter = models.BooleanField(default=False)
    made_at = models.DateTimeField(auto_now_add=True)
    ends_at = models.DateTimeField()
    accepted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, related_name="+"
    )
    accepted_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)

    objects = InvitationQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(customer=None, role=STAFF)
                | (Q(customer__isnull=False) & ~Q(role=STAFF)),
                name="staff_are_of_the_house",
            )
        ]

    def __str__(self) -> str:
        return f"{self.email}: {self.get_role_display()}"


class AddressLetter(models.Model):
    """A letter under way to an address that somebody says is theirs. Its secret, brought back by the same
    person, proves the address."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    email = models.EmailField("e-mail")
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField(auto_now_add=True)
    ends_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.email} for {self.person}"
