#!/usr/bin/env python3
"""Deskwright from the command line."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.settings")
    if "--demo" in sys.argv:
        os.environ.setdefault("DESKWRIGHT_DEMO", "yes")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
