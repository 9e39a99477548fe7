"""The waiting list, and what is put to who waits."""

from __future__ import annotations

from typing import Any, ClassVar

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from planner.api.shapes.fields import Code, Day, Shape, WallTime, Whole
from sites.models import DayPart, ProposalAnswer, WaitingEnd
from sites.models.waiting import HOURS_AHEAD

LONGEST_HOURS = 14 * 24


class ProposalShape(Shape):
    """A free time that is put to a request on the list. It holds no place by itself."""

    number = serializers.IntegerField(source="pk")
    request = serializers.CharField(source="waiting.request.reference")
    site = serializers.CharField(source="station.site.code")
    station = serializers.CharField(source="station.code")
    technician = serializers.CharField(source="technician.code")
    day = serializers.DateField()
    told = WallTime(source="told_minute", help_text="What the person would hear")
    time = WallTime(source="minute", help_text="The planned start")
    minutes = serializers.IntegerField(help_text="The planned length")
    p_wait = serializers.FloatField(
        allow_null=True, help_text="Chance of a longer wait than promised"
    )
    slack_days = serializers.IntegerField(source="slack", help_text="When it was put")
    made_at = serializers.DateTimeField()
    answer = serializers.ChoiceField([*ProposalAnswer.choices, ("", "Open")])
    answered_at = serializers.DateTimeField(allow_null=True)
    appointment = serializers.SerializerMethodField()

    example: ClassVar[dict[str, Any]] = {
        "number": 31,
        "request": "r-1001",
        "site": "north",
        "station": "north-1",
        "technician": "t-1",
        "day": "2027-06-09",
        "told": "09:30",
        "time": "09:34",
        "minutes": 18,
        "p_wait": 0.06,
        "slack_days": 2,
        "made_at": "2027-06-07T08:12:31Z",
        "answer": "",
        "answered_at": None,
        "appointment": None,
    }

    def get_appointment(self, row: Any) -> str | None:
        """Code of the appointment that came of it."""
        return row.appointment.code if row.appointment else None


class WaitingShape(Shape):
    """A place on the waiting list: which times would do, and what is put to it now."""

    request = serializers.CharField(source="request.reference")
    since = serializers.DateTimeField()
    slack_days = serializers.SerializerMethodField()
    site = serializers.SerializerMethodField()
    first_day = serializers.DateField(allow_null=True)
    last_day = serializers.DateField(allow_null=True)
    part = serializers.ChoiceField([*DayPart.choices, ("", "Any")])
    hours_ahead = serializers.IntegerField(help_text="That the person has to hear before")
    ended_at = serializers.DateTimeField(allow_null=True)
    ended_how = serializers.ChoiceField([*WaitingEnd.choices, ("", "Waits")])
    proposal = serializers.SerializerMethodField()

    example: ClassVar[dict[str, Any]] = {
        "request": "r-1001",
        "since": "2027-06-04T08:12:31Z",
        "slack_days": 2,
        "site": "north",
        "first_day": None,
        "last_day": "2027-06-18",
        "part": "am",
        "hours_ahead": 24,
        "ended_at": None,
        "ended_how": "",
        "proposal": ProposalShape.example,
    }

    def get_slack_days(self, row: Any) -> int:
        """Calendar days that can still be lost before the request is late."""
        return int(row.slack.days)

    def get_site(self, row: Any) -> str | None:
        """Code of the site that would do; null: any that the request accepts."""
        return row.site.code if row.site else None

    @extend_schema_field(ProposalShape(allow_null=True))
    def get_proposal(self, row: Any) -> Any:
        """What is put to it and not answered; null: nothing."""
        return ProposalShape(row.open_ones[0]).data if row.open_ones else None


class WaitIn(Shape):
    """Which times would do; what is left out may be any."""

    site = Code(required=False, help_text="Left out: any that the request accepts")
    first_day = Day(required=False)
    last_day = Day(required=False)
    part = serializers.ChoiceField(DayPart.choices, required=False)
    hours_ahead = Whole(
        required=False,
        min_value=0,
        max_value=LONGEST_HOURS,
        help_text=f"That the person has to hear before; left out: {HOURS_AHEAD}",
    )

    example: ClassVar[dict[str, Any]] = {"last_day": "2027-06-18", "part": "am", "hours_ahead": 24}

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Days in their order."""
        first, last = attrs.get("first_day"), attrs.get("last_day")
        if first and last and last < first:
            raise serializers.ValidationError({"last_day": ["is before `first_day`."]})
        return attrs


class ServedShape(Shape):
    """A time that was put to a request, or booked for it where its programme allows that."""

    request = serializers.CharField(source="reference")
    site = serializers.CharField(source="site.code")
    day = serializers.DateField()
    told = WallTime()
    appointment = serializers.SerializerMethodField()

    def get_appointment(self, row: Any) -> str | None:
        """Code of the appointment; null: somebody has to confirm it."""
        return row.appointment.code if row.appointment else None


class ServedManyShape(Shape):
    """What the waiting list did, in its order."""

    served = ServedShape(many=True)

    example: ClassVar[dict[str, Any]] = {
        "served": [
            {
                "request": "r-1001",
                "site": "north",
                "day": "2027-06-09",
                "told": "09:30",
                "appointment": None,
            }
        ]
    }
