"""What was sent on and what came back, as it is shown and registered."""

from __future__ import annotations

from typing import Any, ClassVar

from rest_framework import serializers

from planner.api.shapes.fields import Code, Day, Shape, Text, YesNo
from planner.gateway.present import today
from sites.models import ResponseKind
from sites.selectors.returns import AGES, Todo, age_of

MOST_RESPONSES, MOST_READ = 10_000, 200
STEPS = [each for each in Todo.choices if each[0] != Todo.DONE]
BANDS = [band for band, _, _ in AGES]


class SubmissionShape(Shape):
    """A set that was sent on; ``returned_control_number`` is carried where it replaces another."""

    id = serializers.IntegerField()
    control_number = serializers.CharField()
    returned_control_number = serializers.CharField()
    request = serializers.CharField(source="request.reference")
    sent_at = serializers.DateTimeField()


class ResponseShape(Shape):
    """What came back for a submission."""

    id = serializers.IntegerField()
    control_number = serializers.CharField(source="submission.control_number")
    request = serializers.CharField(source="submission.request.reference")
    kind = serializers.ChoiceField(
        ResponseKind.choices, help_text="Only an image return asks the subject to come again"
    )
    code = serializers.CharField(help_text="The programme's code for it")
    detail = serializers.CharField()
    received_at = serializers.DateTimeField()
    read_at = serializers.DateTimeField(allow_null=True)
    contacted_at = serializers.DateTimeField(allow_null=True)


class ResponseIn(Shape):
    """A response to register."""

    control_number = Text(max_length=64, help_text="Of the submission that it answers")
    kind = serializers.ChoiceField(ResponseKind.choices)
    received_at = serializers.DateTimeField(required=False, help_text="Left out: now")
    code = Text(max_length=32, required=False, help_text="The programme's code for it")
    detail = Text(max_length=500, required=False, help_text="No name, no identifier of a person")

    example: ClassVar[dict[str, Any]] = {
        "control_number": "c-1001",
        "kind": "image",
        "received_at": "2027-03-09T08:30:00Z",
        "code": "L-1",
    }


class ResponseRowIn(Shape):
    """One of many responses."""

    control_number = Text(max_length=64, help_text="Of the submission that it answers")
    kind = serializers.ChoiceField(ResponseKind.choices)
    day = Day(help_text="On which it came, at the site of the set")
    code = Text(max_length=32, required=False, help_text="The programme's code for it")


class ResponsesIn(Shape):
    """Many responses, registered all or none."""

    responses = serializers.ListField(
        child=ResponseRowIn(), min_length=1, max_length=MOST_RESPONSES
    )
    look = YesNo(required=False, help_text="Only say what would be registered")

    example: ClassVar[dict[str, Any]] = {
        "responses": [
            {"control_number": "c-1001", "kind": "accepted", "day": "2027-03-09"},
            {"control_number": "c-1002", "kind": "image", "day": "2027-03-09", "code": "L-1"},
        ],
        "look": True,
    }


class KindCountShape(Shape):
    """How many responses of a kind there are."""

    kind = serializers.ChoiceField(ResponseKind.choices)
    count = serializers.IntegerField()


class RegisteredShape(Shape):
    """What became of many responses."""

    looked = serializers.BooleanField(help_text="Nothing was kept, this is what would be")
    registered = serializers.IntegerField()
    known = serializers.IntegerField(help_text="In the record already, in the same words")
    kinds = KindCountShape(many=True)


class ReworkIn(Shape):
    """The session that an image return makes necessary; what is left out stays as it was."""

    as_recommended = YesNo(required=False, help_text="All of it as `advice` says, and nothing else")
    reference = Code(required=False, help_text="Of the new request; left out: beside the old one")
    profile = Code(required=False, help_text="Kind of session")
    skills = serializers.ListField(
        child=Code(), required=False, max_length=50, help_text="Codes; of the technician"
    )
    sites = serializers.ListField(
        child=Code(), required=False, min_length=1, max_length=200, help_text="That can take it"
    )
    release = Day(required=False, help_text="After hand care or healing; left out: today")
    due = Day(required=False, help_text="Left out: by the programme's terms")
    advice = Text(
        max_length=2000, required=False, help_text="Why; needs, never a diagnosis, and no names"
    )

    example: ClassVar[dict[str, Any]] = {
        "profile": "longer",
        "skills": ["difficult_capture"],
        "sites": ["north"],
        "release": "2027-03-10",
        "due": "2027-03-24",
        "advice": "7 days of hand care first, at least twice a day.",
    }

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """A recommendation is taken whole, or not at all."""
        if attrs.get("as_recommended") and len(attrs) > 1:
            words = "takes everything as recommended: send it alone, or false."
            raise serializers.ValidationError({"as_recommended": [words]})
        return attrs


class AdviceShape(Shape):
    """The session that should follow an image return; people change it before it is asked for."""

    profile = serializers.CharField(source="profile.code", help_text="Kind of session")
    skills = serializers.SerializerMethodField()
    sites = serializers.SerializerMethodField()
    release = serializers.DateField(help_text="First day to book")
    due = serializers.DateField()
    avoid = serializers.CharField(help_text="A station whose scanner does worse than its site")
    reasons = serializers.ListField(child=serializers.CharField())

    def get_skills(self, one: Any) -> list[str]:
        """Codes of the skills that the technician should have."""
        return [each.code for each in one.skills]

    def get_sites(self, one: Any) -> list[str]:
        """Codes of the sites that can take it."""
        return [each.code for each in one.sites]


class SentAgainIn(Shape):
    """The submission in which the same set was sent once more."""

    control_number = Text(max_length=64, help_text="Of the new submission")


class ReturnShape(ResponseShape):
    """A return that asks for something: what is next, and for how many working days it waits."""

    step = serializers.ChoiceField(STEPS, source="todo")
    age = serializers.SerializerMethodField()
    rework = serializers.CharField(
        source="reworked", allow_null=True, help_text="Reference of the request that follows"
    )

    def get_age(self, row: Any) -> int:
        """Working days since the response came."""
        return age_of(row.received_at, today())


class BandShape(Shape):
    """How many returns have waited for so many working days."""

    age = serializers.ChoiceField(BANDS)
    count = serializers.IntegerField()


class StepShape(Shape):
    """The returns that wait for one step."""

    step = serializers.ChoiceField(STEPS)
    count = serializers.IntegerField()
    ages = BandShape(many=True)


class AgesShape(Shape):
    """The queue of returns by step and age."""

    steps = StepShape(many=True)


class ReadIn(Shape):
    """Responses that you read."""

    control_numbers = serializers.ListField(
        child=Text(max_length=64), min_length=1, max_length=MOST_READ
    )


class ReadManyShape(Shape):
    """How many of them nobody had read before."""

    read = serializers.IntegerField()


class UnsentShape(Shape):
    """A session whose complete set was not sent on."""

    appointment = serializers.CharField(source="appointment.code")
    request = serializers.CharField(source="appointment.request.reference")
    site = serializers.CharField(source="appointment.station.site.code")
    ended_at = serializers.DateTimeField()
    age = serializers.SerializerMethodField()

    def get_age(self, row: Any) -> int:
        """Working days since the session ended."""
        return age_of(row.ended_at, today())


class ExceptionShape(Shape):
    """The exception route of a request; a plan, not a decision about a person.

    After two image returns a check by name may be asked for, with both control numbers, until the
    closing date. People decide under the programme's policy whether it is.
    """

    request = serializers.CharField(source="request.reference")
    first_number = serializers.CharField()
    second_number = serializers.CharField()
    opened_at = serializers.DateTimeField()
    closes_on = serializers.DateField(help_text="The last day on which it can be asked for")
    asked_at = serializers.DateTimeField(allow_null=True)
    asked_by = serializers.CharField(
        source="asked_by.username", allow_null=True, help_text="Login of who kept that it was"
    )
