"""Who is signed in, and their tokens."""

from __future__ import annotations

from typing import Any, ClassVar

from rest_framework import serializers

from planner.api.shapes.fields import Shape, Text, Whole, YesNo
from sites.models import Role
from sites.services.api_tokens import LONGEST_DAYS


class OwnShape(Shape):
    """Whoever is signed in."""

    login = serializers.CharField()
    role = serializers.ChoiceField(Role.choices)
    sites = serializers.ListField(child=serializers.CharField(), help_text="Codes, in view")
    may = serializers.ListField(child=serializers.CharField(), help_text="Rules that hold")


class TokenShape(Shape):
    """A token; its secret is kept nowhere."""

    code = serializers.CharField()
    name = serializers.CharField()
    reads_only = serializers.BooleanField()
    made_at = serializers.DateTimeField()
    expires_at = serializers.DateTimeField()
    seen_at = serializers.DateTimeField(allow_null=True, help_text="Last used, to the hour")
    revoked_at = serializers.DateTimeField(allow_null=True)


class TokenIn(Shape):
    """A token to make."""

    name = Text(max_length=120, help_text="Which program it is for")
    days = Whole(min_value=1, max_value=LONGEST_DAYS, help_text="How long it opens")
    reads_only = YesNo(required=False)

    example: ClassVar[dict[str, Any]] = {"name": "nightly", "days": 90, "reads_only": True}


class TokenMadeShape(Shape):
    """A token with its secret, which is shown this once."""

    token = TokenShape()
    secret = serializers.CharField()
