"""Where letters are handed in: the mail server of EMAIL_URL, or nowhere. Every letter of the house leaves here.

No page ever fails because of the mail server: it gets ``EMAIL_TIMEOUT`` seconds for the whole letter, and what went
wrong is logged without anything of the letter itself.
"""

from __future__ import annotations

import logging
import smtplib
import ssl
import threading
from concurrent.futures import Future, ThreadPoolExecutor, wait
from enum import Enum

from django.conf import settings
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend
from django.core.mail.backends.smtp import EmailBackend
from django.utils.functional import cached_property

from planner.serving.environment import BadSetting

log = logging.getLogger(__name__)
SHOWN = 200  # signs of what a mail server said
CARRIERS = 4
_carriers = ThreadPoolExecutor(max_workers=CARRIERS, thread_name_prefix="letters")
_room = threading.BoundedSemaphore(100)  # letters on their way at once


# -- handing in ----------------------------------------------------------------------------------


def letter(to: str, subject: str, text: str) -> EmailMessage:
    """A letter in plain text. Its subject is one line, whatever names stand in it."""
    return EmailMessage(" ".join(subject.split()), text, to=[to])


class Outcome(Enum):
    """What became of a letter. It is true only of one that left."""

    LEFT = "the mail server took it"
    STAYED = "it did not leave"
    UNKNOWN = "the mail server was silent in the middle of it, and may have it or take it yet"

    def __bool__(self) -> bool:
        return self is Outcome.LEFT


def hand_in(written: EmailMessage) -> Outcome:
    """Hands a letter in, and tells what became of it. Never raises, and never waits longer than ``EMAIL_TIMEOUT``."""
    carried = _carried(written)
    if carried is None:
        return Outcome.STAYED
    try:
        return carried.result(settings.EMAIL_TIMEOUT)
    except TimeoutError:
        if carried.cancel():  # it was never begun
            log.warning("A letter did not leave: others before it wait for the mail server.")
            return Outcome.STAYED
        log.warning(
            "A letter may not have left: the mail server took longer than %s s.",
            settings.EMAIL_TIMEOUT,
        )
        return Outcome.UNKNOWN


def hand_in_later(written: EmailMessage) -> None:
    """As :func:`hand_in`, for a page that must not tell by its time or its words what became of the letter."""
    carried = _carried(written)
    if carried is not None and settings.TESTING:
        wait([carried], settings.EMAIL_TIMEOUT)


def _carried(written: EmailMessage) -> Future | None:
    """The letter on its way in a thread of its own; ``None`` when it cannot leave at all."""
    if not settings.SENDS_MAIL:
        return None
    if not _room.acquire(blocking=False):
        log.warning("A letter did not leave: too many others wait for the mail server.")
        return None
    carried = _carriers.submit(_carry, written)
    carried.add_done_callback(lambda done: _room.release())
    return carried


def _carry(written: EmailMessage) -> Outcome:
    try:
        if written.send() == 1:
            return Outcome.LEFT
        return Outcome.STAYED
    except (
        TimeoutError,
        smtplib.SMTPServerDisconnected,
    ) as error:  # in the middle of it, perhaps at its end
        log.warning("A letter may not have left: %s", _why(error))
        return Outcome.UNKNOWN
    except Exception as error:  # of a mail server, or of a part that cannot stand in a letter: there are many kinds
        log.warning("A letter did not leave: %s", _why(error))
        return Outcome.STAYED


def _why(error: Exception) -> str:
    """What the log may say. Once a server has seen the letter, what it answers may repeat its links."""
    kind = type(error).__name__
    if isinstance(error, smtplib.SMTPDataError):
        return f"{kind}: the mail server refused it with {error.smtp_code}."
    if isinstance(error, OSError):
        return f"{kind}: {error}"[:SHOWN]
    return f"{kind}: its address, its sender or its subject cannot be sent."


# -- what Django is told to use ------------------------------------------------------------------


class Server(EmailBackend):
    """The mail server. Its certificate must be good: for the system's authorities, or for EMAIL_CA_FILE alone."""

    @cached_property
    def ssl_context(self) -> ssl.SSLContext:
        return ssl.create_default_context(cafile=settings.EMAIL_CA_FILE or None)


class Nowhere(BaseEmailBackend):
    """No mail server is set. Nothing is printed instead: a letter may hold a link that opens an account."""

    def send_messages(self, email_messages) -> int:
        raise BadSetting("No mail server is set: say in EMAIL_URL where letters are handed in.")
