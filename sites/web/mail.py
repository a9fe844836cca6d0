"""Letters by e-mail. What a person typed stands in them as plain words only: nobody sends texts of their own,
or links, from the house's address."""

from __future__ import annotations

import re

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest
from django.template.loader import render_to_string
from django.urls import reverse

from sites.models import Invitation, Person
from sites.web import mail_server as post
from sites.web.mail_server import Outcome

LONGEST = 60
_LINKS = re.compile(r"[<>\[\]()\"'`/\\:@=?&#%]|\.(?=\S)")


def send(subject: str, template: str, context: dict, to: str) -> Outcome:
    """Sends one letter; what became of it. A letter that did not leave is never an error of the page."""
    if not settings.SENDS_MAIL:
        return Outcome.STAYED
    return post.hand_in(
        post.letter(to, subject, render_to_string(f"letters/{template}.txt", context))
    )


def plain(text: object) -> str:
    """A name as it stands in a letter: one line, short, nothing that a mail program makes a link of."""
    one_line = " ".join(str(text).split())
    return " ".join(_LINKS.sub(" ", one_line).split())[:LONGEST]


def send_invitation(request: HttpRequest, invitation: Invitation, secret: str) -> Outcome:
    """Sends an invitation to the address it is bound to; what became of the letter."""
    context = {
        "inviter": plain(invitation.inviter),
        "role": invitation.get_role_display(),
        "customer": plain(invitation.customer) if invitation.customer else "",
        "link": invitation_link(request, secret),
        "days": settings.INVITATION_DAYS,
    }
    outcome = send("An invitation to Deskwright", "invitation", context, invitation.email)
    cache.set(_outcome_key(invitation), outcome.name, settings.INVITATION_DAYS * 86_400)
    return outcome


def outcome_of(invitation: Invitation) -> Outcome:
    """What became of the letter of an invitation that was sent before; unknown while it is on its way."""
    return Outcome[cache.get(_outcome_key(invitation), Outcome.UNKNOWN.name)]


def _outcome_key(invitation: Invitation) -> str:
    return f"deskwright:letter-of-invitation:{invitation.pk}"


def invitation_link(request: HttpRequest, secret: str) -> str:
    return request.build_absolute_uri(reverse("invitation", args=[secret]))


def send_address_letter(request: HttpRequest, email: str, secret: str) -> Outcome:
    """Asks whether an address is theirs. Without a secret it is another's, who is told that somebody tried."""
    if not secret:
        return send("Your Deskwright address", "address_kept", {}, email)
    link = request.build_absolute_uri(reverse("you-address-proof", args=[secret]))
    context = {"link": link, "days": settings.INVITATION_DAYS}
    return send("Is this your address?", "address", context, email)


def tell_of_new_address(person: Person, before: str) -> Outcome:
    """Tells the old address that the account has another one now."""
    return send(
        "Your Deskwright address was changed", "address_changed", {"email": person.email}, before
    )
