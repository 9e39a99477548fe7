"""Requests as they are shown, received and closed."""

from __future__ import annotations

from datetime import datetime
from typing import Any, ClassVar

from rest_framework import serializers

from planner.api.shapes.fields import Code, Day, Number, Shape, Text, YesNo
from sites.selectors.standing import Standing


class RequestShape(Shape):
    """One need for an accepted set of prints. No name and no contact data is in it."""

    reference = serializers.CharField()
    programme = serializers.CharField(source="terms.programme.code")
    profile = serializers.CharField(source="profile.code", help_text="Kind of session")
    subject = serializers.CharField(source="subject.reference", help_text="The programme's own")
    control_number = serializers.CharField()
    standing = serializers.ChoiceField(Standing.choices, help_text="Read from what happened")
    received = serializers.DateField()
    release = serializers.DateField(help_text="May be booked from this day on")
    due = serializers.DateField()
    expires = serializers.DateField(allow_null=True)
    slack_days = serializers.SerializerMethodField()
    booked_day = serializers.DateField(allow_null=True)
    appointment = serializers.SerializerMethodField()
    appointment_version = serializers.SerializerMethodField()
    priority = serializers.FloatField()
    rework = serializers.BooleanField()
    rework_of = serializers.SerializerMethodField()
    sites = serializers.SerializerMethodField()
    closed_at = serializers.DateTimeField(allow_null=True)
    closed_why = serializers.CharField()

    def get_slack_days(self, row: Any) -> int:
        """Calendar days that can still be lost before it is late; below 0 it is late."""
        return int(row.slack.days)

    def get_appointment(self, row: Any) -> str | None:
        """Code of the appointment that is not over; null: it has none."""
        return row.standing_at[0].code if row.standing_at else None

    def get_appointment_version(self, row: Any) -> int | None:
        """It rises with every change of the appointment."""
        return row.standing_at[0].version if row.standing_at else None

    def get_rework_of(self, row: Any) -> str | None:
        """Reference of the request whose returned set this one replaces."""
        return row.rework_of.reference if row.rework_of else None

    def get_sites(self, row: Any) -> list[str]:
        """Codes of the sites that can take it."""
        return [each.site.code for each in row.at_sites.all()]


class SubjectIn(Shape):
    """The person whose prints are taken: no identifier, no birth data, needs without reasons.

    Of a subject that is known give the reference alone.
    """

    reference = Text(max_length=64, help_text="The programme's own; no identifier of a person")
    given_name = Text(max_length=200, required=False)
    family_name = Text(max_length=200, required=False)
    phone = Text(max_length=64, required=False)
    email = serializers.EmailField(max_length=254, required=False)
    language = serializers.RegexField(
        r"^[A-Za-z]{2,8}(-[A-Za-z0-9]{1,8})*$", max_length=16, required=False, help_text="BCP 47"
    )
    needs_access = YesNo(required=False, help_text="Needs an accessible station")
    needs_longer = YesNo(required=False, help_text="Needs a longer session")


class RequestIn(Shape):
    """A request to take in."""

    reference = Code()
    programme = Code()
    profile = Code(help_text="Kind of session")
    subject = SubjectIn()
    sites = serializers.ListField(
        child=Code(), min_length=1, max_length=200, help_text="Codes of sites that can take it"
    )
    received = Day(help_text="Its programme's terms of this day hold")
    release = Day(required=False, help_text="May be booked from then on; the day it was received")
    due = Day(required=False, help_text="Left out: by the terms")
    control_number = Text(max_length=64, required=False)
    priority = Number(required=False, min_value=0.01, max_value=1000)

    example: ClassVar[dict[str, Any]] = {
        "reference": "r-1001",
        "programme": "licence",
        "profile": "full",
        "subject": {
            "reference": "P-310",
            "given_name": "Ilmi",
            "family_name": "Tavoren",
            "phone": "+00 555 0142",
            "needs_access": True,
        },
        "sites": ["north"],
        "received": "2027-03-01",
    }

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Due is not before release."""
        release = attrs.get("release", attrs["received"])
        if "due" in attrs and attrs["due"] < release:
            raise serializers.ValidationError(
                {"due": ["is before the release: choose a later day."]}
            )
        return attrs


class Why(Shape):
    """Why it is done; no names of people in it."""

    why = Text(max_length=200)


class MaybeWhy(Shape):
    """Why it is done, where there is something to say."""

    why = Text(max_length=200, required=False)


class HappeningShape(Shape):
    """One thing that happened to a request; where only a day is known, ``at`` is null."""

    day = serializers.SerializerMethodField()
    at = serializers.SerializerMethodField()
    what = serializers.CharField()
    detail = serializers.CharField()
    who = serializers.CharField(help_text="Login; empty where no person did it")

    def get_day(self, one: Any) -> str:
        """Its date; of an instant the date in UTC."""
        return str(one.at.date() if isinstance(one.at, datetime) else one.at)

    def get_at(self, one: Any) -> datetime | None:
        """The instant."""
        return one.at if isinstance(one.at, datetime) else None


class TimelineShape(Shape):
    """What happened to a request, oldest first."""

    happenings = HappeningShape(many=True, source="*")


class PersonShape(Shape):
    """What you may see of a request's subject; empty texts are not shown to you, or not known."""

    name = serializers.CharField()
    phone = serializers.CharField()
    email = serializers.CharField()
    language = serializers.CharField()
    needs = serializers.ListField(child=serializers.CharField())
    why = serializers.CharField(help_text="Why something is not shown")


class FindIn(Shape):
    """What somebody says of themselves: a reference, a family name, a number or an address."""

    words = Text(max_length=120)


class FoundShape(Shape):
    """The requests of whoever was found."""

    requests = serializers.ListField(child=serializers.CharField(), help_text="References")
