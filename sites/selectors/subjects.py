"""Finding people by what they say of themselves."""

from __future__ import annotations

from django.db.models import Q, QuerySet

from sites.crypto import lookup
from sites.models import Request, Subject


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


def people_named(
    *, words: str, subjects: QuerySet[Subject], requests: QuerySet[Request], most: int
) -> tuple[list[int], int]:
    """Keys of the people whom words name, the latest first and ``most`` at most; and how many.

    Besides what `subject_find` compares, the programme's reference of one of these ``requests``
    names its subject. Two queries at most.
    """
    if not words.strip():
        return [], 0
    asked = requests.filter(external__text__iexact=words.strip()).order_by()
    named = subject_find(words=words, subjects=subjects)
    rows = subjects.filter(Q(pk__in=named.values("pk")) | Q(pk__in=asked.values("subject")))
    keys = list(rows.order_by("-pk").values_list("pk", flat=True).distinct()[: most + 1])
    return keys[:most], len(keys) if len(keys) <= most else rows.distinct().count()
