"""Settings of ``tests.bench.audit``: those of the tests, and the library that it measures."""

from tests.settings import *  # noqa: F403 - all settings but these
from tests.settings import INSTALLED_APPS

INSTALLED_APPS = [*INSTALLED_APPS, "auditlog"]
