"""Run sheets that open without a line: what a device may keep, for whom, and which files it needs.

The worker (``static/js/run-worker.js``) keeps no page of its own accord: only one that says here whose it is and
which release made it, so that a copy and its static files always come from one release.
"""

from __future__ import annotations

import functools
import hashlib
import json
import pathlib

from django.conf import settings
from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse

from sites.web.middleware import POLICY

FILES = (
    "css/tokens.css",
    "css/deskwright.css",
    "css/run.css",
    "django_htmx/htmx-2.min.js",
    "js/deskwright.js",
    "js/run-shelf.js",
    "js/run-kept.js",
    "js/run-queue.js",
    "js/run-copy.js",
    "js/run.js",
    "img/mark.svg",
    "fonts/SourceSansPro-Regular.ttf",
    "fonts/SourceSansPro-Semibold.ttf",
    "fonts/SourceSansPro-Bold.ttf",
    "fonts/SourceSerifPro-Regular.ttf",
    "fonts/SourceSerifPro-Semibold.ttf",
)
PROGRAM = ("js/run-shelf.js", "js/run-worker.js")


def _content(name: str) -> bytes:
    return pathlib.Path(finders.find(name)).read_bytes()


def made() -> tuple[str, bytes]:
    """The release's name and the worker's program: its name follows from every byte of what the device keeps."""
    program = b"\n".join(_content(name) for name in PROGRAM)
    release = {
        "files": [static(name) for name in FILES],
        "static": settings.STATIC_URL,
        "policy": POLICY,
        "noLine": render_to_string("run/no_line.html"),
    }
    digest = hashlib.sha256(program + json.dumps(release).encode())
    for name in FILES:
        digest.update(hashlib.sha256(_content(name)).digest())
    release["name"] = digest.hexdigest()[:16]
    return release["name"], b"const RELEASE = " + json.dumps(release).encode() + b";\n" + program


_made_once = functools.cache(made)


def release() -> tuple[str, bytes]:
    """As :func:`made`; worked out once, but while the files may change under the running house."""
    return made() if settings.DEBUG else _made_once()


def reach() -> str:
    """Where workers may stand: below the customers, each before the run sheets of one site."""
    return reverse("customer-add")


def may_stay(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """Marks a page as one that the device of the person who asked may keep for some days."""
    response["Deskwright-Person"] = str(request.user.pk)
    response["Deskwright-Release"] = release()[0]
    return response
