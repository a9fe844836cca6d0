"""Pages compared with each other."""

from __future__ import annotations

import re

_TOKENS = re.compile(r'name="(?:csrfmiddlewaretoken|once)" value="[^"]+"|"X-CSRFToken": "[^"]+"')


def without_tokens(page: str) -> str:
    """A page without what is different each time that it is shown."""
    return _TOKENS.sub("", page)
