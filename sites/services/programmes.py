"""A programme's parameters change on a day; requests received before keep theirs."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.forms.models import model_to_dict

from sites.errors import BadValue
from sites.models import Programme, ProgrammeVersion
from sites.selectors.terms import terms_on
from sites.services.write import written


@written
def programme_change(*, programme: Programme, starts_on: date, **changes: Any) -> ProgrammeVersion:
    """Add a version from a day on: the one in force then, with these changes."""
    if programme.versions.filter(starts_on=starts_on).exists():
        raise BadValue(f"{programme.code} on {starts_on}", "has a version", "choose another day")
    before = terms_on(programme=programme, day=starts_on)
    values = model_to_dict(before, exclude=["id", "programme", "starts_on"])
    unknown = sorted(set(changes) - set(values))
    if unknown:
        raise BadValue(", ".join(unknown), "is no parameter", f"use one of {', '.join(values)}")
    return ProgrammeVersion.objects.create(
        programme=programme, starts_on=starts_on, **{**values, **changes}
    )
