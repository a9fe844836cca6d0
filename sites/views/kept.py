"""The worker that opens run sheets without a line."""

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import etag, require_safe

from sites.web import offline as kept


@require_safe
@etag(lambda request: f'"{kept.release()[0]}"')
def worker(request: HttpRequest) -> HttpResponse:
    """The worker's program. It holds nothing of any customer, and is there for everybody: also a device whose
    person is signed out must be able to get a mended one."""
    response = HttpResponse(kept.release()[1], content_type="text/javascript; charset=utf-8")
    response["Service-Worker-Allowed"] = kept.reach()
    response["Cache-Control"] = "no-cache"
    return response
