"""Where letters are handed in: the mail server of EMAIL_URL, or nowhere."""

from __future__ import annotations

import ssl

from django.conf import settings
from django.core.mail.backends.base import BaseEmailBackend
from django.core.mail.backends.smtp import EmailBackend
from django.utils.functional import cached_property

from planner.environment import BadSetting


class Server(EmailBackend):
    """The mail server. Its certificate must be good: for the system's authorities, or for EMAIL_CA_FILE alone."""

    @cached_property
    def ssl_context(self) -> ssl.SSLContext:
        return ssl.create_default_context(cafile=settings.EMAIL_CA_FILE or None)


class Nowhere(BaseEmailBackend):
    """No mail server is set. Nothing is printed instead: a letter may hold a link that opens an account."""

    def send_messages(self, email_messages) -> int:
        raise BadSetting("No mail server is set: say in EMAIL_URL where letters are handed in.")
