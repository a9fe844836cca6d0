"""What every page knows."""

import json

from django.conf import settings

from planner import __version__

# What htmx may do in our pages: no script of an answer runs, nothing of a page is kept, and an answer that refuses
# (409, 422) is shown as one that was taken is.
HTMX_SETTINGS = json.dumps(
    {
        "allowEval": False,
        "allowScriptTags": False,
        "includeIndicatorStyles": False,
        "historyCacheSize": 0,
        "refreshOnHistoryMiss": True,
        "historyRestoreAsHxRequest": False,
        "responseHandling": [
            {"code": "204", "swap": False},
            {"code": "[23]..", "swap": True},
            {"code": "409|422", "swap": True},
            {"code": "[45]..", "swap": False, "error": True},
        ],
    },
    separators=(",", ":"),
)


def house(request) -> dict:
    return {
        "demo": settings.DEMO,
        "sends_mail": settings.SENDS_MAIL,
        "version": __version__,
        "htmx_settings": HTMX_SETTINGS,
    }
