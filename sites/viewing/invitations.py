"""An invitation's letter: sent, and what became of it said."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest

from sites.actions import invitations as actions
from sites.actions import once
from sites.models import Invitation
from sites.web import mail as letters
from sites.web.mail_server import Outcome


def send(request: HttpRequest, invitation: Invitation, secret: str, again: bool = False) -> None:
    """Sends the letter and says so. Where this house sends no letters, the secret is handed over by hand.

    ``again`` is a form that was sent twice: no second letter leaves, and what became of the first is told.
    """
    if again and not actions.stands(invitation):
        messages.warning(request, once.GONE)
    elif not invitation.by_letter:
        link = letters.invitation_link(request, secret)
        messages.warning(
            request,
            f"This house sends no letters. Hand this link to {invitation.email} yourself: it is shown only now, "
            f"holds for three days and works once. {link}",
        )
    elif again:
        _tell_outcome(request, invitation, letters.outcome_of(invitation))
    else:
        _tell_outcome(request, invitation, letters.send_invitation(request, invitation, secret))


def _tell_outcome(request: HttpRequest, invitation: Invitation, outcome: Outcome) -> None:
    email = invitation.email
    if outcome is Outcome.LEFT:
        messages.success(request, f"An invitation is on its way to {email}.")
    elif outcome is Outcome.UNKNOWN:
        messages.warning(
            request,
            f"We do not know yet whether the letter to {email} left: the mail server takes its time. Ask there in a "
            "few minutes; if nothing came, send it again. Of two letters the later one opens.",
        )
    else:
        messages.warning(
            request,
            f"The letter to {email} did not leave: the mail server did not take it. Send it again from the list below.",
        )
