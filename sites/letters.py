"""Letters by e-mail: so far, the link with which a new member chooses a password."""

from __future__ import annotations

import logging

from allauth.account.forms import default_token_generator
from allauth.account.utils import user_pk_to_url_str
from django.conf import settings
from django.core.mail import send_mail
from django.http import HttpRequest
from django.template.loader import render_to_string
from django.urls import reverse

from sites.models import Customer, Person

log = logging.getLogger(__name__)


def password_link(request: HttpRequest, person: Person) -> str:
    """An address at which one person may choose a password, once, within three days."""
    words = {"uidb36": user_pk_to_url_str(person), "key": default_token_generator.make_token(person)}
    return request.build_absolute_uri(reverse("account_reset_password_from_key", kwargs=words))


def invite(request: HttpRequest, person: Person, customer: Customer, role: str) -> str:
    """Sends a new member the link; gives the link back when no letter could leave this house."""
    link = password_link(request, person)
    context = {"by": request.user, "role": role, "customer": customer, "person": person, "link": link,
               "home": request.build_absolute_uri("/")}  # fmt: skip
    if not settings.SENDS_MAIL:
        return link
    try:
        send_mail("Your Deskwright account", render_to_string("letters/member.txt", context), None, [person.email])
    except OSError as error:  # the member stands; only the letter did not leave
        log.warning("The letter to a new member did not leave: %s", error)
        return link
    return ""


def invitation_link(request: HttpRequest, secret: str) -> str:
    """Stands in until invitations are here."""
    return request.build_absolute_uri(f"/invitation/{secret}")


def send_invitation(request: HttpRequest, invitation, secret: str) -> bool:
    """Stands in until invitations are here."""
    send_mail("An invitation to Deskwright", invitation_link(request, secret), None, [invitation.email])
    return True
