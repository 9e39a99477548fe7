"""Holding requests, releasing them and changing their sites, one or many."""

from __future__ import annotations

from typing import Any, ClassVar

from rest_framework import serializers

from planner.api.shapes.fields import Code, Day, Shape, Text
from sites.selectors.chosen import How

MOST = 1000
"""Requests of one call."""


class HoldIn(Shape):
    """Why a request has to wait, and until when."""

    why = Text(max_length=200, help_text="No names of people, nothing about health")
    until = Day(
        required=False,
        help_text="First day on which it can have an appointment again; left out: until released",
    )

    example: ClassVar[dict[str, Any]] = {"why": "is away until then", "until": "2027-07-01"}


class ReleaseManyIn(Shape):
    """The requests to release."""

    requests = serializers.ListField(
        child=Code(), min_length=1, max_length=MOST, help_text="References"
    )

    example: ClassVar[dict[str, Any]] = {"requests": ["r-1001", "r-1002"]}


class HoldManyIn(HoldIn, ReleaseManyIn):
    """The requests to hold, and why."""

    example: ClassVar[dict[str, Any]] = {**ReleaseManyIn.example, **HoldIn.example}


class SitesManyIn(ReleaseManyIn):
    """The requests whose sites are changed, and how."""

    how = serializers.ChoiceField(
        [(each.value, each.value) for each in How],
        help_text="`add`: these too, `only`: these alone, `take`: not these",
    )
    sites = serializers.ListField(
        child=Code(), min_length=1, max_length=200, help_text="Codes of sites in your view"
    )

    example: ClassVar[dict[str, Any]] = {
        **ReleaseManyIn.example,
        "how": "add",
        "sites": ["north"],
    }


class SkippedShape(Shape):
    """A request that was left as it is, and why."""

    request = serializers.CharField()
    why = serializers.CharField()


class OutcomeShape(Shape):
    """What became of each request."""

    done = serializers.ListField(child=serializers.CharField(), help_text="References")
    skipped = SkippedShape(many=True)

    example: ClassVar[dict[str, Any]] = {
        "done": ["r-1001"],
        "skipped": [{"request": "r-1002", "why": "stands at “Booked”"}],
    }
