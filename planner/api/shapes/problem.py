"""Problem details as they are sent."""

from __future__ import annotations

from rest_framework import serializers

from planner.api.shapes.fields import Shape


class FaultShape(Shape):
    """One thing that is wrong, and where: a place in the body, a parameter or a header."""

    pointer = serializers.CharField(required=False, help_text="JSON pointer (RFC 6901)")
    parameter = serializers.CharField(required=False, help_text="Name in the query")
    header = serializers.CharField(required=False)
    detail = serializers.CharField()


class ProblemShape(Shape):
    """What is wrong and what to do about it (RFC 9457)."""

    type = serializers.CharField(help_text="Address of what this kind of problem means")
    title = serializers.CharField(help_text="The same for every problem of the kind")
    status = serializers.IntegerField(help_text="The HTTP status")
    detail = serializers.CharField(help_text="What is wrong this time, and the remedy")
    instance = serializers.CharField(help_text="This problem alone, to be named in a report")
    errors = FaultShape(many=True, required=False)


class KindShape(Shape):
    """A kind of problem."""

    kind = serializers.CharField()
    status = serializers.IntegerField()
    title = serializers.CharField()
    remedy = serializers.CharField()
