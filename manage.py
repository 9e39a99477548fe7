#!/usr/bin/env python
"""Platen's command line."""

import os
import sys

from django.core.management import execute_from_command_line

from sites.audit.actor import PROCESS, command

if __name__ == "__main__":
    if sys.argv[1:2] == ["demo"]:
        os.environ.setdefault("PLATEN_DEMO", "1")
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.settings")
    PROCESS.actor = command(next(iter(sys.argv[1:]), "none"))
    execute_from_command_line(sys.argv)
