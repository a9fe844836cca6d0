"""What every answer carries."""

from __future__ import annotations

from django.contrib.auth.signals import user_logged_out
from django.dispatch import receiver
from django.utils.cache import patch_vary_headers

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
    "connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'; manifest-src 'self'"
)


def content_security_policy(get_response):
    """Nothing inline, nothing from elsewhere; pages and their fragments are told apart by caches."""

    def middleware(request):
        response = get_response(request)
        response.headers.setdefault("Content-Security-Policy", POLICY)
        patch_vary_headers(response, ["HX-Request"])
        if request.headers.get("HX-Request") == "true" and response.status_code == 302:
            target = response.headers["Location"]
            if "/sign-in/" in target:  # or the sign-in page would land inside the swapped part
                response.status_code = 200
                response.headers["HX-Redirect"] = target
        return response

    return middleware


def nothing_kept(get_response):
    """What is answered here is kept by no browser and no proxy, unless its page says otherwise (static files, which
    anybody may have, are answered before). After signing out the browser clears away what it kept before."""

    def middleware(request):
        response = get_response(request)
        response.headers.setdefault("Cache-Control", "private, no-store")
        if getattr(request, "signed_out", False):
            response.headers["Clear-Site-Data"] = _to_clear(request)
        return response

    return middleware


@receiver(user_logged_out)
def note_sign_out(sender, request, **kwargs) -> None:
    if request is not None:
        request.signed_out = True


def _to_clear(request) -> str:
    """Storage holds answers of run sheets that wait for a line: it goes only where the page found none waiting."""
    if request.POST.get("waits") == "nothing":
        return '"cache", "storage"'
    return '"cache"'
