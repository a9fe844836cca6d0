"""The front door, where allauth's own views do not do: letters, setting up a factor, recovery codes."""

from __future__ import annotations

from allauth.account import views as account
from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes import views as codes
from allauth.mfa.totp.views import ActivateTOTPView, DeactivateTOTPView
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import dateformat, timezone
from django.utils.decorators import method_decorator
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from sites.access import factors
from sites.actions import people as actions
from sites.actions.stages import Refused
from sites.models import Person
from sites.web import devices, notices, sessions
from sites.web import let_in as links

SHOWN = "recovery_codes_shown"


def not_here(request: HttpRequest, **words) -> HttpResponse:
    """A place that allauth may name, and this house does not have."""
    raise Http404


@method_decorator(never_cache, name="dispatch")
class ChoosePassword(account.PasswordResetFromKeyView):
    """Takes a new password for the secret of a letter. The browser that brought it back has its own counter of
    passwords from then on."""

    def form_valid(self, form) -> HttpResponse:
        try:
            response = super().form_valid(form)
        except Refused:
            return self.render_to_response(self.get_context_data(token_fail=True))
        self.reset_user.refresh_from_db()
        devices.remember(self.request, response, self.reset_user, signed_in=False)
        return response


@method_decorator(never_cache, name="dispatch")
class SetUpFactor(ActivateTOTPView):
    """Sets up a second factor, and ends every other session: one of them may have begun with the password alone."""

    def dispatch(self, request: HttpRequest, *args, **words) -> HttpResponse:
        response = super().dispatch(request, *args, **words)
        if response.headers.get("Location") != reverse("mfa_deactivate_totp"):
            return response
        # There is one already: whoever sent the form twice wants the codes, not to take it off.
        return redirect("mfa_view_recovery_codes" if request.method == "POST" else "mfa_index")

    def form_valid(self, form) -> HttpResponse:
        person = self.request.user
        with transaction.atomic():
            Person.objects.select_for_update().get(pk=person.pk)  # one at a time sets it up
            if _has_one(person):
                return redirect("mfa_view_recovery_codes")
            response = super().form_valid(form)
            factors.spend_present_codes(person)
            actions.end_all_sessions(by=person, person=person)
            tell_own(person, "A second factor was set up for your account")
        sessions.keep(self.request, person)
        devices.remember(self.request, response, person)
        return response

    def get_context_data(self, **words) -> dict:
        return super().get_context_data(owed=factors.owes_factor(self.request.user), **words)


def _has_one(person: Person) -> bool:
    """Asked anew: the person of a request knows what was so when it began."""
    return Authenticator.objects.filter(user=person, type=factors.TOTP).exists()


def tell_own(person: Person, what: str) -> None:
    """Tells somebody what was done to their account in their own session: somebody else may have sat there."""
    on = dateformat.format(timezone.now(), "j F Y")
    notices.tell(person, f"{what} on {on}. If that was not you, tell house staff at once.")


class TakeFactorOff(DeactivateTOTPView):
    @transaction.atomic
    def form_valid(self, form) -> HttpResponse:
        tell_own(self.request.user, "The second factor of your account was taken off")
        return super().form_valid(form)


class NewRecoveryCodes(codes.GenerateRecoveryCodesView):
    @transaction.atomic
    def form_valid(self, form) -> HttpResponse:
        tell_own(self.request.user, "New recovery codes were made for your account")
        return super().form_valid(form)


class ChangePassword(account.PasswordChangeView):
    @transaction.atomic
    def form_valid(self, form) -> HttpResponse:
        tell_own(self.request.user, "The password of your account was changed")
        return super().form_valid(form)


@method_decorator(never_cache, name="dispatch")
class RecoveryCodes(codes.ViewRecoveryCodesView):
    """Shows the codes once. They are held meanwhile, so that showing them brings none back that is being used."""

    @transaction.atomic
    def get_context_data(self, **words) -> dict:
        _hold(self.request)
        context = super().get_context_data(**words)
        self.request.session[SHOWN] = context["can_view_codes"]
        return context


class RecoveryCodesFile(codes.DownloadRecoveryCodesView):
    """The codes as a file: once, for the session in which they have just been shown."""

    def dispatch(self, request: HttpRequest, *args, **words) -> HttpResponse:
        if not request.session.pop(SHOWN, False):
            raise Http404
        held = Authenticator.objects.filter(user=request.user, type=factors.RECOVERY).first()
        if held is None:
            raise Http404
        self.unused_codes = held.wrap().get_unused_codes()
        return self.get(request, *args, **words)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def let_in(request: HttpRequest, secret: str) -> HttpResponse:
    """House staff gave somebody this link: this browser has its own counter of passwords from then on. Looking
    changes nothing."""
    if request.method != "POST":
        person = links.opened(secret)
        if person:
            status = 200
        else:
            status = 410
        return render(request, "door/let_in.html", {"person": person}, status=status)
    person = links.use(secret)
    if person is None:
        return render(request, "door/let_in.html", status=410)
    response = redirect("account_login")
    devices.remember(request, response, person, signed_in=False)
    return response


def _hold(request: HttpRequest) -> None:
    Authenticator.objects.select_for_update().filter(
        user=request.user, type=factors.RECOVERY
    ).first()


change_password = login_required(ChangePassword.as_view())
choose_password = ChoosePassword.as_view()
set_up_factor = SetUpFactor.as_view()
take_factor_off = TakeFactorOff.as_view()
new_recovery_codes = NewRecoveryCodes.as_view()
recovery_codes = RecoveryCodes.as_view()
recovery_codes_file = never_cache(login_required(require_safe(RecoveryCodesFile.as_view())))
