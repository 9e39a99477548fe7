"""A text column that is encrypted at rest."""

from __future__ import annotations

from typing import Any

from django.db import models

from sites.crypto import opened, sealed


class SealedField(models.TextField):  # type: ignore[type-arg]
    """Plain text in Python, a token in the database. It cannot be searched or ordered by."""

    def get_prep_value(self, value: Any) -> Any:
        """Seal on the way in."""
        text = super().get_prep_value(value)
        return sealed(text) if text else text

    def from_db_value(self, value: str | None, *_: object) -> str | None:
        """Open on the way out."""
        return opened(value) if value else value

    def get_lookup(self, lookup_name: str) -> Any:
        """Refuse every look-up but "is null": two tokens of one text differ."""
        return super().get_lookup(lookup_name) if lookup_name == "isnull" else None
