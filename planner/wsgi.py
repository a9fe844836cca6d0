"""The door for a WSGI server: ``planner.wsgi:application``."""

import gc
import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.settings")
application = get_wsgi_application()

# What is loaded now stays: looking through it for garbage again and again would cost tens of milliseconds a time.
gc.collect()
gc.freeze()
