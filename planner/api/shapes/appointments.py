"""Appointments as they are shown, booked and moved."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from planner.api.shapes.fields import Code, Day, Shape, Text, WallTime, Whole
from sites.models import Step

LONGEST = 12 * 60


class AppointmentShape(Shape):
    """A request has a station, a technician and a time. Days and times are on the site's clock."""

    code = serializers.CharField()
    version = serializers.IntegerField(help_text="Rises with every change")
    request = serializers.CharField(source="request.reference")
    site = serializers.CharField(source="station.site.code")
    timezone = serializers.CharField(source="station.site.timezone")
    station = serializers.CharField(source="station.code")
    technician = serializers.CharField(source="technician.code")
    step = serializers.ChoiceField(Step.choices)
    day = serializers.DateField()
    told = WallTime(source="told_minute", help_text="What the person hears")
    time = WallTime(source="minute", help_text="The planned start")
    minutes = serializers.IntegerField(help_text="The planned length")
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    p_wait = serializers.FloatField(
        allow_null=True, help_text="Chance of a longer wait than the terms promise; null: unknown"
    )
    fixed = serializers.BooleanField(help_text="True: plans leave it where it is")
    why = serializers.CharField(help_text="Why it last changed")


class PlaceIn(Shape):
    """A place and a time."""

    station = Code()
    technician = Code()
    day = Day(help_text="On the site's clock")
    time = WallTime(help_text="On the site's clock")
    minutes = Whole(min_value=1, max_value=LONGEST)


class BookIn(PlaceIn):
    """A request and where it goes."""

    request = Code(help_text="Reference of the request")
    why = Text(max_length=200, required=False)


class MoveIn(PlaceIn):
    """Where it goes, and why."""

    why = Text(max_length=200)


def place_of(values: dict[str, Any]) -> dict[str, Any]:
    """Day, minute and length as services take them."""
    return {"day": values["day"], "minute": values["time"], "minutes": values["minutes"]}
