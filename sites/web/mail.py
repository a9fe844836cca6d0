"""Letters by e-mail. What a person typed stands in them as plain words only: nobody sends texts of their own,
or links, from the house's address."""

from __future__ import annotations

import re

from django.conf import settings
from django.http import HttpRequest
from django.template.loader import render_to_string
from django.urls import reverse

from sites.models import Invitation, Person
from sites.web import mail_server as post

LONGEST = 60
_LINKS = re.compile(r"[<>\[\]()\"'`/\\:@=?&#%]|\.(?=\S)")


def send(subject: str, template: str, context: dict, to: str) -> bool:
    """Sends one letter; whether it left. A letter that did not leave is never an error of the page."""
    if not settings.SENDS_MAIL:
        return False
    return post.hand_in(
        post.letter(to, subject, render_to_string(f"letters/{template}.txt", context))
    )


def plain(text: object) -> str:
    """A name as it stands in a letter: one line, short, nothing that a mail program makes a link of."""
    one_line = " ".join(str(text).split())
    return " ".join(_LINKS.sub(" ", one_line).split())[:LONGEST]


def send_invitation(request: HttpRequest, invitation: Invitation, secret: str) -> bool:
    """Sends an invitation to the address it is bound to; whether the letter left."""
    context = {
        "inviter": plain(invitation.inviter),
        "role": invitation.get_role_display(),
        "customer": plain(invitation.customer) if invitation.customer else "",
        "link": invitation_link(request, secret),
        "days": settings.INVITATION_DAYS,
    }
    return send("An invitation to Deskwright", "invitation", context, invitation.email)


def invitation_link(request: HttpRequest, secret: str) -> str:
    return request.build_absolute_uri(reverse("invitation", args=[secret]))


def send_address_letter(request: HttpRequest, email: str, secret: str) -> bool:
    """Asks whether an address is theirs. Without a secret it is another's, who is told that somebody tried."""
    if not secret:
        return send("Your Deskwright address", "address_kept", {}, email)
    link = request.build_absolute_uri(reverse("you-address-proof", args=[secret]))
    context = {"link": link, "days": settings.INVITATION_DAYS}
    return send("Is this your address?", "address", context, email)


def tell_of_new_address(person: Person, before: str) -> bool:
    """Tells the old address that the account has another one now."""
    return send(
        "Your Deskwright address was changed", "address_changed", {"email": person.email}, before
    )
