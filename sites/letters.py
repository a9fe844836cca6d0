"""Letters by e-mail. Every letter of the house leaves through :func:`send` or :func:`send_later`.

No page ever fails because of the mail server: it gets ``EMAIL_TIMEOUT`` seconds for the whole letter, and what went
wrong is logged without anything of the letter itself.
"""

from __future__ import annotations

import logging
import smtplib
import threading
from concurrent.futures import Future, ThreadPoolExecutor

from allauth.account.forms import default_token_generator
from allauth.account.utils import user_pk_to_url_str
from django.conf import settings
from django.core.mail import EmailMessage
from django.http import HttpRequest
from django.template.loader import render_to_string
from django.urls import reverse

from sites.models import Customer, Person

log = logging.getLogger(__name__)
SHOWN = 200  # signs of what a mail server said
_carriers = ThreadPoolExecutor(max_workers=4, thread_name_prefix="letters")
_room = threading.BoundedSemaphore(100)  # letters on their way at once


# -- how a letter leaves -------------------------------------------------------------------------


def written(to: str, subject: str, template: str, context: dict) -> EmailMessage:
    """A letter in plain text. A subject is one line, whatever names stand in it."""
    return EmailMessage(" ".join(subject.split()), render_to_string(template, context), to=[to])


def send(letter: EmailMessage) -> bool:
    """Whether a mail server took the letter. Never raises, and never waits longer than ``EMAIL_TIMEOUT``."""
    carried = _hand_over(letter)
    if carried is None:
        return False
    try:
        return carried.result(settings.EMAIL_TIMEOUT)
    except TimeoutError:
        carried.cancel()
        log.warning("A letter did not leave: the mail server took longer than %s s.", settings.EMAIL_TIMEOUT)
        return False


def send_later(letter: EmailMessage) -> None:
    """As :func:`send`, for a page that must not tell by its time or its words what became of the letter."""
    carried = _hand_over(letter)
    if carried is not None and settings.TESTING:
        carried.result()


def _hand_over(letter: EmailMessage) -> Future | None:
    if not settings.SENDS_MAIL:
        return None
    if not _room.acquire(blocking=False):
        log.warning("A letter did not leave: too many others wait for the mail server.")
        return None
    carried = _carriers.submit(_carry, letter)
    carried.add_done_callback(lambda done: _room.release())
    return carried


def _carry(letter: EmailMessage) -> bool:
    try:
        return letter.send() == 1
    except (OSError, ValueError) as error:  # ValueError: an address that cannot be written in a letter
        log.warning("A letter did not leave: %s", _why(error))
        return False


def _why(error: Exception) -> str:
    """What the log may say. Once a server has seen the letter, what it answers may repeat its links."""
    kind = type(error).__name__
    if isinstance(error, ValueError):
        return f"{kind}: its address, its sender or its subject cannot be sent."
    if isinstance(error, smtplib.SMTPDataError):
        return f"{kind}: the mail server refused it with {error.smtp_code}."
    return f"{kind}: {error}"[:SHOWN]


# -- what is written -----------------------------------------------------------------------------


def password_link(request: HttpRequest, person: Person) -> str:
    """An address at which one person may choose a password, once, within three days."""
    words = {"uidb36": user_pk_to_url_str(person), "key": default_token_generator.make_token(person)}
    return request.build_absolute_uri(reverse("account_reset_password_from_key", kwargs=words))


def invite(request: HttpRequest, person: Person, customer: Customer, role: str) -> str:
    """Sends a new member the link; gives the link back when no letter could leave this house."""
    link = password_link(request, person)
    context = {"by": request.user, "role": role, "customer": customer, "person": person, "link": link,
               "home": request.build_absolute_uri("/")}  # fmt: skip
    left = send(written(person.email, "Your Deskwright account", "letters/member.txt", context))
    return "" if left else link
