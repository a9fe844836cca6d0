"""What every page knows."""

from django.conf import settings


def house(request) -> dict:
    return {"demo": settings.DEMO, "sends_mail": settings.SENDS_MAIL}
