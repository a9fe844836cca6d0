#!/usr/bin/env python3
"""Deskwright from the command line."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.settings")
    if "--demo" in sys.argv:
        os.environ["DESKWRIGHT_DEMO"] = os.environ.get("DESKWRIGHT_DEMO", "").strip() or "yes"
    from django.core.management import execute_from_command_line

    from planner.environment import BadSetting

    try:
        execute_from_command_line(sys.argv)
    except BadSetting as error:
        sys.exit(f"Deskwright does not start. {error}")


if __name__ == "__main__":
    main()
