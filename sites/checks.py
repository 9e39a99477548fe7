"""What must be set before the record is used: asked for by ``migrate`` and ``check --database``.

Commands that work on files ask for nothing.
"""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error
from django.core.exceptions import ImproperlyConfigured

HINT = (
    "set it to a long random text, for example the output of "
    "python -c 'import secrets; print(secrets.token_urlsafe(48))', and keep it: {why}"
)
NEEDED = (
    ("PLATEN_SECRET_KEY", "SECRET_KEY", "sign-ins end when it changes"),
    ("PLATEN_CONTACT_KEYS", "CONTACT_KEYS", "without it names and contact data cannot be read"),
    ("PLATEN_LOOKUP_KEY", "LOOKUP_KEY", "when it changes nobody is found by name or contact"),
)


def keys_are_set(*, databases: Any = None, **_: Any) -> list[CheckMessage]:
    """An error for every key that is missing, with how to make one."""
    if not databases:
        return []
    return [
        Error(f"{name} is not set", hint=HINT.format(why=why), id=f"record.E{number:03d}")
        for number, (name, setting, why) in enumerate(NEEDED, 1)
        if not is_set(setting)
    ]


def is_set(setting: str) -> bool:
    """Whether a setting has a value; reading an empty SECRET_KEY raises."""
    try:
        return bool(getattr(settings, setting))
    except ImproperlyConfigured:
        return False
