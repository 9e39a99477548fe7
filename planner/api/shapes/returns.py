"""What was sent on and what came back, as it is shown and registered."""

from __future__ import annotations

from rest_framework import serializers

from planner.api.shapes.fields import Code, Shape, Text
from sites.models import ResponseKind


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
    detail = serializers.CharField()
    received_at = serializers.DateTimeField()
    read_at = serializers.DateTimeField(allow_null=True)
    contacted_at = serializers.DateTimeField(allow_null=True)


class ResponseIn(Shape):
    """A response to register."""

    control_number = Text(max_length=64, help_text="Of the submission that it answers")
    kind = serializers.ChoiceField(ResponseKind.choices)
    received_at = serializers.DateTimeField(required=False, help_text="Left out: now")
    detail = Text(max_length=500, required=False, help_text="No name, no identifier of a person")


class ReworkIn(Shape):
    """The session that an image return makes necessary."""

    reference = Code(help_text="Reference of the new request")
    profile = Code(required=False, help_text="Kind of session; left out: the same as before")
