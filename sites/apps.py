"""The Django app that keeps the records."""

from django.apps import AppConfig


class SitesConfig(AppConfig):
    name = "sites"
    default_auto_field = "django.db.models.BigAutoField"
