"""Settings of the tests: keys of no value, and a database file that threads can share."""

import os

os.environ.setdefault("PLATEN_HTTPS", "0")  # the test client speaks plain HTTP

from planner.settings import *  # noqa: F403 - all settings but these
from planner.settings import CACHES, DATABASES, VAR

SECRET_KEY = "tests-sign-nothing-of-value"  # noqa: S105 - of no value
CONTACT_KEYS = ["tests-seal-nothing-of-value"]
LOOKUP_KEY = "tests-find-nobody-of-value"
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    DATABASES["default"]["TEST"] = {"NAME": str(VAR / "test.sqlite3")}
CACHES = CACHES | {"figures": {"BACKEND": "django.core.cache.backends.dummy.DummyCache"}}
