"""The Django app that keeps the records."""

from django.apps import AppConfig
from django.core import checks
from django.db.backends.signals import connection_created

from sites.durable import commit_waits


class SitesConfig(AppConfig):
    name = "sites"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        checks.register(catalogue_is_whole)
        connection_created.connect(commit_waits)


def catalogue_is_whole(app_configs, **kwargs) -> list[checks.CheckMessage]:
    """Says at the start what is wrong in ``fixtures/catalogue``, before somebody meets it on site."""
    from planner import whole

    return [
        checks.Error(error, hint="Mend the entry in fixtures/catalogue.", id="sites.E001") for error in whole.faults()
    ]
