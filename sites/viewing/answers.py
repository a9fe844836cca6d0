"""An answer to a check, taken from what a form brought: on the check's own page and on a run sheet."""

from __future__ import annotations

from django.http import HttpRequest

from sites.actions import proofs as proof_actions
from sites.actions import stages as actions
from sites.forms.stages import AnswerForm
from sites.models import Site


def take_answer(request: HttpRequest, site: Site, check, form: AnswerForm):
    """Answers a check with what a form brought. Raises what :func:`actions.answer_check` raises, and ``Unfit``."""
    if not form.is_valid():
        raise actions.Refused(
            " ".join(error for errors in form.errors.values() for error in errors)
        )
    sent = form.cleaned_data
    before = actions.sent_before(by=request.user, site=site, token=sent["token"])
    if before is not None:  # sent again: its photos need not be looked at twice
        return before
    uploads = [*request.FILES.getlist("photos"), *request.FILES.getlist("files")]
    taken = proof_actions.take_all(uploads, getattr(request, "too_large", False))
    why = form.ask_files([one.name or "" for one in uploads], taken)
    if why:
        raise actions.Refused(why)
    return actions.answer_check(
        by=request.user,
        role=request.access.role,
        site=site,
        check=check,
        state=sent["state"],
        proof=sent["note"],
        measured=sent["measured"],
        taken=taken,
        value=sent["value"],
        seen=sent["seen"],
        token=sent["token"],
        at=actions.moment_of(sent["age"]),
    )
