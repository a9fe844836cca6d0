"""The Django app that keeps the records."""

from django.apps import AppConfig
from django.conf import settings
from django.core import checks
from django.db.backends.signals import connection_created
from django.db.models.signals import post_migrate, pre_migrate

from sites.web.durable import commit_waits


class SitesConfig(AppConfig):
    name = "sites"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from sites.web import marks, sessions
        from sites.web.clients import proxies_can_be_read

        checks.register(catalogue_is_whole)
        checks.register(data_folder_is_closed)
        checks.register(marks.checked)
        checks.register(proxies_can_be_read)
        connection_created.connect(commit_waits)
        pre_migrate.connect(marks.refuse_before, sender=self)
        post_migrate.connect(marks.claim_after, sender=self)
        sessions.listen()


def catalogue_is_whole(app_configs, **kwargs) -> list[checks.CheckMessage]:
    """Says at the start what is wrong in ``fixtures/catalogue``, before somebody meets it on site."""
    from planner import catalogue_check as whole

    return [
        checks.Error(error, hint="Mend the entry in fixtures/catalogue.", id="sites.E001")
        for error in whole.faults()
    ]


def data_folder_is_closed(app_configs, **kwargs) -> list[checks.CheckMessage]:
    """A folder that is not Deskwright's own to close is told of."""
    from planner.serving.folders import open_to_all

    if settings.TESTING or not open_to_all(settings.DATA):
        return []
    words = f"Everybody on this machine can look into the data folder {settings.DATA}."
    return [checks.Warning(words, hint=f"Close it: chmod 700 {settings.DATA}", id="sites.W001")]
