"""Photos and files that back an answer: for the customer's members, and never run by a browser."""

from __future__ import annotations

from django.http import FileResponse, Http404, HttpRequest
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from sites.access import door as access
from sites.actions.proofs import ENDINGS, path_of
from sites.models import Proof, Site

POLICY = "default-src 'none'; style-src 'none'; script-src 'none'; sandbox"


@access.for_site(access.READ)
@require_safe
def proof(request: HttpRequest, site: Site, pk: int, small: bool = False) -> FileResponse:
    """A photo is shown, anything else is only downloaded."""
    found = get_object_or_404(Proof, pk=pk, site=site)
    if small:
        place = found.small_place
    else:
        place = found.place
    path, media_type = path_of(site, place), "image/jpeg" if small else found.media_type
    if path is None or media_type not in ENDINGS:
        raise Http404
    response = FileResponse(
        path.open("rb"),
        content_type=media_type,
        filename=_name(found, media_type),
        as_attachment=not media_type.startswith("image/"),
    )
    response.headers["Content-Security-Policy"] = POLICY
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    response.headers["Cache-Control"] = "private, no-store"
    return response


def _name(found: Proof, media_type: str) -> str:
    """The name as it was sent, with the ending of what it is now."""
    stem = found.name.rpartition(".")[0] or found.name or f"proof-{found.pk}"
    return f"{stem}.{ENDINGS[media_type]}"
