"""Pages compared with each other, and forms sent as they are shown."""

from __future__ import annotations

import re

from django.forms import BaseForm

_TOKENS = re.compile(r'name="(?:csrfmiddlewaretoken|once)" value="[^"]+"|"X-CSRFToken": "[^"]+"')


def without_tokens(page: str) -> str:
    """A page without what is different each time that it is shown."""
    return _TOKENS.sub("", page)


def sent_as_shown(form: BaseForm) -> dict[str, object]:
    """What a browser sends of a form in which nothing was typed."""
    shown = {form[name].html_name: form[name].value() for name in form.fields}
    return {name: value for name, value in shown.items() if value is not None}
