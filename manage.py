#!/usr/bin/env python
"""Entry point of every management command."""

import os
import sys


def main():
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "reeflog.settings")
    try:
        from django.core.management import execute_from_command_line
    except ImportError:
        sys.exit("Django is not installed here. `make run` sets everything up.")
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
