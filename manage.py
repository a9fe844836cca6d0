#!/usr/bin/env python3
"""Deskwright from the command line."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.settings")
    from django.conf import settings
    from django.core.management import execute_from_command_line

    from planner.serving.environment import BadSetting

    try:
        if "--demo" in sys.argv:
            start_as_demo()
        settings.INSTALLED_APPS  # noqa: B018  (reads them all: what is wrong is told before any command begins)
        execute_from_command_line(sys.argv)
    except BadSetting as error:
        sys.exit(f"Deskwright does not start. {error}")


def start_as_demo() -> None:
    from planner.serving.environment import BadSetting, flag

    if not flag("DESKWRIGHT_DEMO", default=True):
        raise BadSetting("DESKWRIGHT_DEMO says no, and --demo says yes: take one of them away.")
    os.environ["DESKWRIGHT_DEMO"] = "yes"


if __name__ == "__main__":
    main()
