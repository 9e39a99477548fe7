"""Subjects: kept once, by the programme's own reference."""

from __future__ import annotations

from typing import Any

from sites.errors import BadValue
from sites.models import Subject
from sites.services.write import written


@written
def subject_keep(*, reference: str, **values: Any) -> Subject:
    """The subject of a reference, made with these values where there is none yet.

    Values of a subject who is known are not written over: raises BadValue where some are given
    that differ. The values themselves are never named in an error.
    """
    known = Subject.objects.filter(reference=reference).first()
    if known is None:
        return Subject.objects.create(reference=reference, **values)
    differ = sorted(name for name, value in values.items() if getattr(known, name) != value)
    if differ:
        raise BadValue(
            reference,
            f"is known with other values ({', '.join(differ)})",
            "give the reference alone, or correct the subject first",
        )
    return known
