"""Notices to subjects and their texts, as they are shown and changed."""

from __future__ import annotations

from typing import Any, ClassVar

from rest_framework import serializers

from planner.api.shapes.fields import Shape, Text
from sites.models import NoticeKind, NoticeState


class NoticeShape(Shape):
    """Something that a subject has to be told, and how far it is; no name is in it."""

    id = serializers.IntegerField()
    request = serializers.CharField(source="request.reference")
    kind = serializers.ChoiceField(NoticeKind.choices)
    state = serializers.ChoiceField(
        NoticeState.choices,
        help_text="`phone`, `failed` and `unsure` need a person; the rest goes by itself",
    )
    why = serializers.CharField(source="fault", help_text="Why it was not sent, if it was not")
    appointment = serializers.CharField(source="appointment.code", allow_null=True)
    raised_at = serializers.DateTimeField()
    told_at = serializers.DateTimeField(allow_null=True)
    told_by = serializers.CharField(source="told_by.username", allow_null=True)


class LetterShape(Shape):
    """A notice as its subject reads it."""

    heading = serializers.CharField()
    text = serializers.CharField()
    html = serializers.CharField()


class AgainShape(Shape):
    """How many notices wait to be sent again."""

    waiting = serializers.IntegerField()


class VariableShape(Shape):
    """Something that a text can ask for, written in braces."""

    name = serializers.CharField()
    means = serializers.CharField()


class TextShape(Shape):
    """The words of a kind of notice: the programme's own, or ours where it has none."""

    programme = serializers.CharField(source="programme.code")
    kind = serializers.ChoiceField(NoticeKind.choices)
    language = serializers.SerializerMethodField()
    own = serializers.SerializerMethodField()
    heading = serializers.CharField(help_text="The subject line")
    body = serializers.CharField()

    def get_language(self, row: Any) -> str:
        """Its tag, or `every`."""
        return row.language or "every"

    def get_own(self, row: Any) -> bool:
        """Whether these are the programme's own words."""
        return row.pk is not None


class TextWithVariablesShape(TextShape):
    """The words of a kind of notice, with what they can ask for."""

    variables = VariableShape(many=True)
    heading_variables = VariableShape(
        many=True, help_text="Others may read a subject line: nothing of a person"
    )


class TextIn(Shape):
    """A programme's own words. Lines of the body that begin with a dash become a list."""

    heading = Text(max_length=120, help_text="The subject line, without anything of a person")
    body = Text(max_length=8000, help_text="`{name}` and other variables are filled in")

    example: ClassVar[dict[str, Any]] = {
        "heading": "Your appointment: {programme}",
        "body": "Dear {name},\n\nwe expect you on {day} at {time}.\n\n{contact}",
    }
