"""The real settings with an address that always fails."""

from planner.settings import *  # noqa: F403 - all settings but this

ROOT_URLCONF = "tests.web.broken"
