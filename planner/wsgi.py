"""The door for a WSGI server: ``planner.wsgi:application``."""

import gc
import os
import sys

from django.core.exceptions import ImproperlyConfigured
from django.core.wsgi import get_wsgi_application

NOT_LOADED = 4  # at which gunicorn ends instead of trying again and again

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.settings")
try:
    application = get_wsgi_application()
except (
    ImproperlyConfigured
) as error:  # a setting, or the other kind of house: words say more than a traceback
    print(f"Deskwright does not start. {error}", file=sys.stderr, flush=True)  # noqa: T201 (there is no log yet)
    raise SystemExit(NOT_LOADED) from None

# What is loaded now stays: looking through it for garbage again and again would cost tens of milliseconds a time.
gc.collect()
gc.freeze()
