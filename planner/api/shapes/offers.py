"""Free times for a request as they are offered and taken."""

from __future__ import annotations

from typing import Any, ClassVar

from rest_framework import serializers

from planner.api.shapes.appointments import AppointmentShape
from planner.api.shapes.fields import Code, Day, Shape, Text, WallTime
from planner.api.shapes.plans import ReasonShape
from planner.gateway.offers.ask import TOP
from planner.gateway.offers.narrow import PARTS

MOST = 60
"""Times that one answer holds."""


class OffersQuery(Shape):
    """Which times would do."""

    first = Day(required=False, help_text="From this day on.")
    last = Day(required=False, help_text="Up to this day.")
    site = Code(required=False, help_text="Code of the site.")
    part = serializers.ChoiceField(
        list(PARTS), required=False, help_text="`am`: begins before noon, `pm`: from noon on."
    )
    skill = Code(required=False, help_text="What the technician has to hold besides.")
    top = serializers.IntegerField(
        required=False, min_value=1, max_value=MOST, default=TOP, help_text="How many times."
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Days in their order."""
        if attrs.get("first") and attrs.get("last") and attrs["last"] < attrs["first"]:
            raise serializers.ValidationError({"last": ["is before `first`: turn them round."]})
        return attrs


class TimeShape(Shape):
    """A free time, on the site's clock; whoever takes it is told ``told``."""

    site = serializers.CharField(source="site.code")
    station = serializers.CharField()
    technician = serializers.CharField()
    day = serializers.DateField()
    told = WallTime(help_text="What the person hears")
    time = WallTime(source="minute", help_text="The planned start")
    minutes = serializers.IntegerField(help_text="The planned length")
    travel = serializers.IntegerField(help_text="Minutes to get there; 0 where nobody knows")
    kept = serializers.FloatField(help_text="Chance of waiting no longer than promised")
    level = serializers.CharField(help_text="What its minutes are worth to others")
    late_days = serializers.IntegerField(source="late", help_text="After the due date")
    cost = serializers.FloatField(help_text="By which times are ranked")
    price = serializers.FloatField(help_text="Decides among times that cost the same")
    why = serializers.CharField()
    now = serializers.BooleanField(help_text="True: the request has it already")

    example: ClassVar[dict[str, Any]] = {
        "site": "north",
        "station": "north-1",
        "technician": "t-1",
        "day": "2027-06-09",
        "told": "09:30",
        "time": "09:34",
        "minutes": 18,
        "travel": 25,
        "kept": 0.94,
        "level": "quiet",
        "late_days": 0,
        "cost": 2.5,
        "price": 0.8,
        "why": "in the third of the plan's prices that is lowest",
        "now": False,
    }


class GivenShape(Shape):
    """A time that is free once somebody else moves: ask them first, nobody is moved by this."""

    time = TimeShape()
    other = serializers.CharField(help_text="Reference of the request that would move")
    was_day = serializers.DateField()
    was_told = WallTime()
    to = TimeShape()
    cost = serializers.FloatField(help_text="What both cost")


class HeldShape(Shape):
    """A time that only a day's reserve for rework keeps from the request."""

    time = TimeShape()
    short = serializers.IntegerField(help_text="Minutes of the reserve that it would take")


class StandbyShape(Shape):
    """A day on which a place may come free: an estimate."""

    site = serializers.CharField(source="site.code")
    day = serializers.DateField()
    places = serializers.IntegerField(help_text="That would do")
    chance = serializers.FloatField(help_text="That somebody does not come to one of them")


class OffersShape(Shape):
    """Free times, best first; the rest where they are few or all late, ``reasons`` where none."""

    request = serializers.CharField()
    times = TimeShape(many=True)
    given = GivenShape(many=True)
    held = HeldShape(allow_null=True)
    standby = StandbyShape(many=True)
    first = serializers.DateField(help_text="First day that was looked at")
    last = serializers.DateField(help_text="Last day that was looked at")
    sites = serializers.ListField(child=serializers.CharField(), help_text="Sites that were asked")
    skills = serializers.ListField(
        child=serializers.CharField(), help_text="What technicians there hold"
    )
    reasons = ReasonShape(many=True)

    example: ClassVar[dict[str, Any]] = {
        "request": "r-1001",
        "times": [TimeShape.example],
        "given": [],
        "held": None,
        "standby": [{"site": "north", "day": "2027-06-10", "places": 3, "chance": 0.31}],
        "first": "2027-06-08",
        "last": "2027-07-05",
        "sites": ["north"],
        "skills": ["children"],
        "reasons": [],
    }


class OfferTakeIn(Shape):
    """A time as it was offered: the station and the technician are chosen anew."""

    site = Code()
    day = Day(help_text="On the site's clock")
    told = WallTime(help_text="What the person is told, on the site's clock")
    why = Text(max_length=200, required=False, help_text="No names of people")

    example: ClassVar[dict[str, Any]] = {"site": "north", "day": "2027-06-09", "told": "09:30"}


class TakenShape(Shape):
    """What was done, and the appointment as it is now."""

    done = serializers.ChoiceField(["booked", "moved", "stands"])
    appointment = AppointmentShape()


class NotBeforeIn(Shape):
    """From which day on a person can come; why is not kept."""

    day = Day(help_text="As the person or their practitioner says, or by the programme's terms")

    example: ClassVar[dict[str, Any]] = {"day": "2027-06-21"}
