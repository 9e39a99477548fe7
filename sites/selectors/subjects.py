"""Finding people by what they say of themselves."""

from __future__ import annotations

from django.db.models import Q, QuerySet

from sites.crypto import lookup
from sites.models import Subject


def subject_find(*, words: str, subjects: QuerySet[Subject]) -> QuerySet[Subject]:
    """Subjects whose reference, family name, phone or email is this, but for case and marks.

    Looked for among ``subjects``. Contact data is sealed, so that parts of a name or number cannot
    be searched for.
    """
    key = lookup(words)
    if not key:
        return subjects.none()
    return subjects.filter(
        Q(reference__iexact=words.strip())
        | Q(family_name_key=key)
        | Q(phone_key=key)
        | Q(email_key=key)
    )
