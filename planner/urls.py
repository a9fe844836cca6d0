"""Addresses of the whole house. The front door is named view by view: what is not listed is not there."""

from allauth.account import views as account
from allauth.mfa.base import views as factor
from django.urls import include, path, re_path

from sites.views import door

handler429 = "sites.web.limits.too_many"

# The names are allauth's own: its views lead to each other by them.
SIGN_IN = [
    path("login/", account.login, name="account_login"),
    path("logout/", account.logout, name="account_logout"),
    path("inactive/", account.account_inactive, name="account_inactive"),
    path("reauthenticate/", account.reauthenticate, name="account_reauthenticate"),
    path("password/change/", door.change_password, name="account_change_password"),
    path("password/set/", door.not_here, name="account_set_password"),
    path("password/reset/", account.password_reset, name="account_reset_password"),
    path("password/reset/done/", account.password_reset_done, name="account_reset_password_done"),
    re_path(
        r"^password/reset/key/(?P<uidb36>[0-9A-Za-z]+)-(?P<key>.+)/$",
        door.choose_password,
        name="account_reset_password_from_key",
    ),
    path(
        "password/reset/key/done/",
        account.password_reset_from_key_done,
        name="account_reset_password_from_key_done",
    ),
    path("2fa/", factor.index, name="mfa_index"),
    path("2fa/authenticate/", factor.authenticate, name="mfa_authenticate"),
    path("2fa/reauthenticate/", factor.reauthenticate, name="mfa_reauthenticate"),
    path("2fa/totp/activate/", door.set_up_factor, name="mfa_activate_totp"),
    path("2fa/totp/deactivate/", door.take_factor_off, name="mfa_deactivate_totp"),
    path("2fa/recovery-codes/", door.recovery_codes, name="mfa_view_recovery_codes"),
    path(
        "2fa/recovery-codes/generate/",
        door.new_recovery_codes,
        name="mfa_generate_recovery_codes",
    ),
    path(
        "2fa/recovery-codes/download/", door.recovery_codes_file, name="mfa_download_recovery_codes"
    ),
]

urlpatterns = [
    path("sign-in/", include(SIGN_IN)),
    path("", include("sites.urls")),
]
