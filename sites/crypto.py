"""Contact data at rest: encrypted with rotating keys, found again by a keyed hash."""

from __future__ import annotations

import base64
import hashlib
import hmac
import unicodedata
from contextlib import suppress
from enum import Enum
from functools import lru_cache

from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured


def derived(key: str, purpose: str) -> bytes:
    """32 bytes for one purpose, from one key of any length."""
    return hmac.new(key.encode(), purpose.encode(), hashlib.sha256).digest()


def digest(purpose: str, *parts: bytes) -> str:
    """A hash (hex, 64 characters) of parts, each with its length, keyed by the secret key.

    It changes with ``PLATEN_SECRET_KEY``, as sign-ins end when that changes.
    """
    found = hmac.new(derived(settings.SECRET_KEY, purpose), digestmod=hashlib.sha256)
    for part in parts:
        found.update(len(part).to_bytes(8, "big") + part)
    return found.hexdigest()


@lru_cache(maxsize=8)
def ciphers(keys: tuple[str, ...]) -> MultiFernet:
    """The ciphers of these keys; the first one writes, all of them read."""
    return MultiFernet([Fernet(base64.urlsafe_b64encode(derived(key, "contact"))) for key in keys])


def contact_keys() -> tuple[str, ...]:
    """The keys of the settings, newest first."""
    keys = tuple(settings.CONTACT_KEYS)
    if not keys:
        raise ImproperlyConfigured(
            "contact data needs a key: set PLATEN_CONTACT_KEYS to one or more long random texts, "
            "the newest first"
        )
    return keys


def sealed(text: str) -> str:
    """The text as a token that only the keys open; an empty text stays empty."""
    return ciphers(contact_keys()).encrypt(text.encode()).decode("ascii") if text else ""


def opened(token: str) -> str:
    """The text of a token. Raises ImproperlyConfigured where no key opens it."""
    if not token:
        return ""
    try:
        return ciphers(contact_keys()).decrypt(token.encode("ascii")).decode()
    except InvalidToken:
        raise ImproperlyConfigured(
            "a contact field was sealed with a key that is not in PLATEN_CONTACT_KEYS: add the old "
            "key at the end of the list"
        ) from None


class Seal(Enum):
    """By which of the keys a token is sealed."""

    NEWEST = "newest"
    OLDER = "older"
    STRANGE = "strange"


def seal_of(token: str) -> Seal:
    """Whether the newest key opens a token, an older one, or none."""
    keys = contact_keys()
    for seal, some in ((Seal.NEWEST, keys[:1]), (Seal.OLDER, keys[1:])):
        with suppress(InvalidToken):
            if some:
                ciphers(some).decrypt(token.encode("ascii"))
                return seal
    return Seal.STRANGE


def resealed(token: str) -> str:
    """The same text as a token of the newest key. Raises InvalidToken where no key opens it."""
    return ciphers(contact_keys()).rotate(token.encode("ascii")).decode("ascii")


def keyed(purpose: str, text: str) -> bytes:
    """32 bytes that stay the same for a text and say nothing of it to whoever has no key."""
    if not settings.LOOKUP_KEY:
        raise ImproperlyConfigured(
            "messages need a key to be told apart by: set PLATEN_LOOKUP_KEY to a long random text"
        )
    return hmac.new(derived(settings.LOOKUP_KEY, purpose), text.encode(), hashlib.sha256).digest()


def lookup(text: str) -> str:
    """A keyed hash (hex, 64 characters) of the text without case, marks and spaces; "" of "".

    Keyed by ``PLATEN_LOOKUP_KEY``, which does not rotate with the contact keys.
    """
    plain = unicodedata.normalize("NFKD", text).casefold()
    bare = "".join(sign for sign in plain if sign.isalnum() or sign in "@+")
    if not bare:
        return ""
    if not settings.LOOKUP_KEY:
        raise ImproperlyConfigured(
            "finding people by contact needs a key: set PLATEN_LOOKUP_KEY to a long random text"
        )
    return hmac.new(
        derived(settings.LOOKUP_KEY, "lookup"), bare.encode(), hashlib.sha256
    ).hexdigest()
