"""The programme's parameters that hold on a day."""

from __future__ import annotations

from datetime import date

from sites.errors import BadValue
from sites.models import Programme, ProgrammeVersion


def terms_on(*, programme: Programme, day: date) -> ProgrammeVersion:
    """The version that began last on or before a day. Raises BadValue where none had begun."""
    version = programme.versions.filter(starts_on__lte=day).order_by("-starts_on").first()
    if version is None:
        raise BadValue(
            f"{programme.code} on {day}",
            "has no parameters yet",
            "add a version that starts on or before that day",
        )
    return version
