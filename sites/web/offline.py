"""Run sheets that open without a line: what a device may keep, for whom, and which files it needs.

The worker (``static/js/run-worker.js``) keeps no page of its own accord: only one that says here whose it is and
which release made it, so that a copy and its static files always come from one release.
"""

from __future__ import annotations

import functools
import hashlib
import json

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse

from sites.web.middleware import POLICY
from sites.web.static_files import (
    RUN_STYLES,
    STYLES,
    content_of,
    joined,
    with_fonts,
    with_imports,
)

PROGRAM = "js/run-worker.js"


def files() -> list[str]:
    """What a run sheet cannot do without: all that its page asks for."""
    return [
        *with_fonts(*STYLES, *RUN_STYLES),
        "django_htmx/htmx-2.min.js",
        *with_imports("js/deskwright.js", "js/run.js"),
        "img/mark.svg",
    ]


def made() -> tuple[str, bytes]:
    """The release's name and the worker's program: its name follows from every byte of what the device keeps."""
    names = files()
    program = joined(PROGRAM).encode()
    release = {
        "files": [static(name) for name in names],
        "static": settings.STATIC_URL,
        "policy": POLICY,
        "noLine": render_to_string("run/no_line.html"),
    }
    digest = hashlib.sha256(program + json.dumps(release).encode())
    for name in names:
        digest.update(hashlib.sha256(content_of(name)).digest())
    release["name"] = digest.hexdigest()[:16]
    return release["name"], b"const RELEASE = " + json.dumps(release).encode() + b";\n" + program


_made_once = functools.cache(made)


def release() -> tuple[str, bytes]:
    """As :func:`made`; worked out once, but while the files may change under the running house."""
    if settings.DEBUG:
        return made()
    return _made_once()


def reach() -> str:
    """Where workers may stand: below the customers, each before the run sheets of one site."""
    return reverse("customer-add")


def may_stay(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """Marks a page as one that the device of the person who asked may keep for some days."""
    response["Deskwright-Person"] = str(request.user.pk)
    response["Deskwright-Release"] = release()[0]
    return response
