"""Contact data opens with the keys in use, and is found by the hashes kept with it."""

from __future__ import annotations

from collections.abc import Iterator

from sites.check.finding import Finding
from sites.crypto import lookup
from sites.models import Subject


def contact_is_found() -> Iterator[Finding]:
    """Each look-up hash is that of the text it stands for."""
    for subject in Subject.objects.iterator():
        for field in ("family_name", "phone", "email"):
            if lookup(getattr(subject, field)) != getattr(subject, f"{field}_key"):
                yield Finding(
                    f"subject {subject.reference}",
                    f"cannot be found by its {field.replace('_', ' ')}",
                    "save it again: the hash is worked out from the text",
                )


CHECKS = (contact_is_found,)
