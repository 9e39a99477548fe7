"""One row of those that somebody sees, or 404: what they may not see is as if it were not there."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.http import Http404
from rest_framework import serializers


def one(rows: QuerySet[Any], what: str, **by: Any) -> Any:
    """The row. Raises Http404 with its name."""
    found = rows.filter(**by).first()
    if found is None:
        named = ", ".join(f"{value}" for value in by.values())
        raise Http404(f"There is no {what} {named} among those that you see.")
    return found


def named(rows: QuerySet[Any], what: str, field: str, value: str, column: str = "code") -> Any:
    """The row that a body names. Raises ValidationError at its place."""
    found = rows.filter(**{column: value}).first()
    if found is None:
        raise serializers.ValidationError(
            {field: [f"There is no {what} {value} among those that you see: name one by its code."]}
        )
    return found
