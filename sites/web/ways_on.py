"""Nobody is led to a page that is none: an address that takes a form alone does not answer a look.

Whoever sends a form while signed out is led to the sign-in, and from there to the page that the form stood on, never
to the address that the form goes to. The same holds after the password once more. Whoever types such an address gets
a page that says so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from urllib.parse import parse_qs, urlencode, urlsplit

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import resolve_url
from django.template.loader import render_to_string
from django.urls import Resolver404, resolve, reverse

LOOKS = ("GET", "HEAD")
NEXT = "next"
NOT_SAVED = "What you had typed was not saved. Sign in, then do it once more."
NOT_DONE = "Nothing was done yet. Do it once more from here."


def ways_on(get_response: Callable[[HttpRequest], HttpResponse]):
    """Mends where an answer leads to, and gives an empty refusal of a method a page."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        if response.status_code == 302:
            _mend(request, response)
        if isinstance(response, HttpResponseNotAllowed) and not response.content:
            _fill(request, response)
        return response

    return middleware


def _mend(request: HttpRequest, response: HttpResponse) -> None:
    target = urlsplit(response["Location"])
    if target.netloc and target.netloc != request.get_host():
        return
    if target.path == resolve_url(settings.LOGIN_URL):
        _mend_sign_in(request, response, target.query)
    elif not takes_look(target.path):
        response["Location"] = nearest(target.path)
        messages.warning(request, NOT_DONE)


def _mend_sign_in(request: HttpRequest, response: HttpResponse, query: str) -> None:
    """What sends nobody back to an address that only takes forms."""
    [wanted] = parse_qs(query).get(NEXT, [""])
    if wanted != request.get_full_path() or request.method in LOOKS:
        return
    on = urlencode({NEXT: page_of(request)})
    response["Location"] = f"{resolve_url(settings.LOGIN_URL)}?{on}"
    if not _by_script(request):
        messages.warning(request, NOT_SAVED)


def _by_script(request: HttpRequest) -> bool:
    """Whether a page sends it by itself: it keeps what was typed until it is taken."""
    return request.headers.get("Accept", "").startswith("application/json")


def page_of(request: HttpRequest) -> str:
    """The page that a form stood on, as the browser tells; else the nearest one above where the form goes."""
    try:
        told = urlsplit(request.headers.get("Referer", ""))
    except ValueError:
        return nearest(request.path)
    own = told.scheme in ("http", "https") and told.netloc == request.get_host()
    if not own or not _is_there(told.path):
        return nearest(request.path)
    if told.query:
        return f"{told.path}?{told.query}"
    return told.path


def nearest(path: str) -> str:
    """The page that stands next above an address: of its site, of its customer, or of what its path says; the first
    page of all where there is none."""
    try:
        keys = resolve(path).kwargs
    except Resolver404:
        keys = {}
    if "site" in keys:
        return reverse("chapter", args=[keys["customer"], keys["site"], "brief"])
    if "customer" in keys:
        return reverse("customer", args=[keys["customer"]])
    return next((above for above in _above(path) if _is_there(above)), reverse("home"))


def _above(path: str) -> Iterator[str]:
    parts = path.strip("/").split("/")
    while len(parts) > 1:
        parts.pop()
        yield "/" + "/".join(parts) + "/"
        yield "/" + "/".join(parts)


def _is_there(path: str) -> bool:
    try:
        resolve(path)
    except Resolver404:
        return False
    return takes_look(path)


def takes_look(path: str) -> bool:
    """Whether an address answers GET, as its view's decorator says. One that is not there answers with its own page."""
    try:
        view: Callable | None = resolve(path).func
    except Resolver404:
        return True
    while view is not None:
        methods = _methods_of(view)
        if methods is not None:
            return "GET" in methods
        view = getattr(view, "__wrapped__", None)
    return True


def _methods_of(view: Callable) -> list[str] | None:
    """What ``require_http_methods`` lets through, if it made this function."""
    names = getattr(getattr(view, "__code__", None), "co_freevars", ())
    if "request_method_list" not in names:
        return None
    cells = getattr(view, "__closure__", None) or ()
    return cells[names.index("request_method_list")].cell_contents


def _fill(request: HttpRequest, response: HttpResponse) -> None:
    context = {"nearest": nearest(request.path)}
    response.content = render_to_string("405.html", context, request).encode()
    response["Content-Type"] = "text/html; charset=utf-8"
