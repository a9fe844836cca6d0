"""What every page knows."""

from django.conf import settings

from planner import __version__


def house(request) -> dict:
    return {"demo": settings.DEMO, "sends_mail": settings.SENDS_MAIL, "version": __version__}
