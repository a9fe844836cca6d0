"""Every request has its asker: what is typed in it is asked whether it holds a secret."""

from __future__ import annotations

from sites.access.asker import asking
from sites.actions.secrets import keep_said


def said_harmless(get_response):
    """Gives the request its asker; what was said to be no secret is kept once the request was answered well."""

    def middleware(request):
        with asking() as asker:
            response = get_response(request)
            if asker.said and response.status_code < 400:
                keep_said(by=request.user if request.user.is_authenticated else None, asker=asker)
            return response

    return middleware
