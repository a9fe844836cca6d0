"""Requests that hold what no text has are turned away at the door, before anybody reads them.

NUL is in no text that people write, and no database of a team keeps it; half of a pair of surrogates cannot even be
sent back. A form would say so of its fields, but keys in addresses, cookies and names pass no form.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Callable, Iterable

from django.http import HttpRequest, HttpResponse, QueryDict, UnreadablePostError

IN_NO_TEXT = re.compile("[\x00\ud800-\udfff]")
READ_AS = ("utf-8", "ascii")
WRONG_LETTER = (
    "What was sent holds a character that no text has. Go back, take it out, and send it again.\n"
)
WRONG_LETTERS = "Send it in UTF-8.\n"
CUT_OFF = "What was sent did not arrive whole. Send it again.\n"


class PossibleText:
    """400 for a request with a letter that no text has, 415 for one in other letters than UTF-8."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if not _in_our_letters(request.content_params.get("charset", "")):
            return _refused(WRONG_LETTERS, 415)
        if _impossible((request.path_info, *_of(request.GET), *request.COOKIES.values())):
            return _refused(WRONG_LETTER, 400)
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view, args, words) -> HttpResponse | None:
        try:
            if _impossible(_of(request.POST)):
                return _refused(WRONG_LETTER, 400)
            return None
        except UnreadablePostError:
            return _refused(CUT_OFF, 400)


def _in_our_letters(charset: str) -> bool:
    """Whether a request is to be read as UTF-8; what says nothing is."""
    try:
        return not charset or codecs.lookup(charset).name in READ_AS
    except (LookupError, ValueError):
        return False


def _of(sent: QueryDict) -> Iterable[str]:
    for name, values in sent.lists():
        yield name
        yield from values


def _impossible(texts: Iterable[str]) -> bool:
    return any(IN_NO_TEXT.search(text) for text in texts)


def _refused(why: str, status: int) -> HttpResponse:
    return HttpResponse(why, status=status, content_type="text/plain; charset=utf-8")
