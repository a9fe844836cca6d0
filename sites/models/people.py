"""The people who use this Deskwright. They sign in with their e-mail address."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from django.contrib.auth.models import AbstractUser, UserManager
from django.db import models

NO_ADDRESS = "@no-address.invalid"


class PersonManager(UserManager):
    """Makes people by e-mail address; there are no user names."""

    def _make(self, email: str, password: str | None, **extra) -> Person:
        person = self.model(email=self.normalize_email(email).lower(), **extra)
        person.set_password(password)
        person.save(using=self._db)
        return person

    def create_user(self, email: str, password: str | None = None, **extra) -> Person:
        return self._make(email, password, **{"is_staff": False, "is_superuser": False, **extra})

    def create_superuser(self, email: str, password: str | None = None, **extra) -> Person:
        return self._make(email, password, **{"is_staff": True, "is_superuser": True, **extra})


class Person(AbstractUser):
    """Somebody who may sign in. ``is_staff`` makes one house staff: they see every customer.

    ``proven_at`` is when a letter to their address came back; ``None`` while nobody showed that it is theirs.
    ``doors`` counts how often all their sessions were ended at once: a session of another count is over.
    """

    username = None
    first_name = None
    last_name = None
    email = models.EmailField("e-mail", unique=True)
    name = models.CharField(max_length=120, blank=True)
    proven_at = models.DateTimeField(null=True, editable=False)
    doors = models.PositiveIntegerField(default=0, editable=False)

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = []
    objects = PersonManager()

    class Meta:
        verbose_name_plural = "people"

    def __str__(self) -> str:
        if self.has_address:
            own = self.email
        else:
            own = f"account {self.pk}"
        return self.name or own

    def get_full_name(self) -> str:
        return str(self)

    def get_short_name(self) -> str:
        return str(self)

    def get_session_auth_hash(self) -> str:
        """As Django's, and another one once all sessions were ended."""
        return self._sealed(super().get_session_auth_hash())

    def get_session_auth_fallback_hash(self) -> Iterator[str]:
        return (self._sealed(one) for one in super().get_session_auth_fallback_hash())

    def _sealed(self, hashed: str) -> str:
        if self.doors:
            return f"{hashed}.{self.doors}"
        return hashed

    def no_address(self) -> str:
        """What stands for the address of somebody who lost theirs (RFC 2606: “invalid” is nobody's)."""
        return f"{self.pk}{NO_ADDRESS}"

    @property
    def has_address(self) -> bool:
        return not self.email.endswith(NO_ADDRESS)

    @property
    def house_staff(self) -> bool:
        return self.is_active and self.is_staff
