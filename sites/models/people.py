"""The people who use this Deskwright. They sign in with their e-mail address."""

from __future__ import annotations

from django.contrib.auth.models import AbstractUser, UserManager
from django.db import models


class PersonManager(UserManager):
    """Makes people by e-mail address; there are no user names."""

    def _make(self, email: str, password: str | None, **extra) -> Person:
        person = self.model(email=self.normalize_email(email).lower(), **extra)
        person.set_password(password)
        person.save(using=self._db)
        return person

    def create_user(self, email: str, password: str | None = None, **extra) -> Person:  # type: ignore[override]
        return self._make(email, password, **{"is_staff": False, "is_superuser": False, **extra})

    def create_superuser(self, email: str, password: str | None = None, **extra) -> Person:  # type: ignore[override]
        return self._make(email, password, **{"is_staff": True, "is_superuser": True, **extra})


class Person(AbstractUser):
    """Somebody who may sign in. ``is_staff`` makes one house staff: they see every customer."""

    username = None  # type: ignore[assignment]
    first_name = None  # type: ignore[assignment]
    last_name = None  # type: ignore[assignment]
    email = models.EmailField("e-mail", unique=True)
    name = models.CharField(max_length=120, blank=True)

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS = []
    objects = PersonManager()

    class Meta:
        verbose_name_plural = "people"

    def __str__(self) -> str:
        return self.name or self.email

    def get_full_name(self) -> str:
        return str(self)

    def get_short_name(self) -> str:
        return str(self)

    @property
    def house_staff(self) -> bool:
        return self.is_active and self.is_staff
