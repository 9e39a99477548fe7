"""Sessions and their captures as they are shown and recorded."""

from __future__ import annotations

from datetime import date
from typing import Any, ClassVar

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from planner.api.shapes.fields import Code, Day, Number, Shape, Text, Whole, YesNo
from sites.access import may
from sites.models import Algorithm, Cause, OverrideKind, SessionEnd
from sites.models.codes import FingerPosition, ImpressionType, MissingCode

SCORES: dict[str, frozenset[int]] = {
    Algorithm.NFIQ1: frozenset(range(1, 6)),
    Algorithm.NFIQ2: frozenset((*range(101), 254, 255)),
}
"""Scores that an algorithm gives; 254 and 255 say that NFIQ 2 gave none."""
FINGERS = tuple(range(FingerPosition.RIGHT_THUMB, FingerPosition.LEFT_LITTLE + 1))


class CodeNumber(serializers.ChoiceField):
    """One of some whole numbers; a text is none."""

    def to_internal_value(self, data: Any) -> Any:
        """Refuse what is no whole number."""
        if isinstance(data, bool) or not isinstance(data, int):
            self.fail("invalid_choice", input=data)
        return super().to_internal_value(data)


class AttemptShape(Shape):
    """One try at one impression."""

    position = CodeNumber(FingerPosition.choices, help_text="ANSI/NIST-ITL friction ridge position")
    impression = CodeNumber(ImpressionType.choices, help_text="ANSI/NIST-ITL impression type")
    number = serializers.IntegerField()
    kept = serializers.BooleanField(help_text="It is the one that is sent on")
    algorithm = serializers.ChoiceField([*Algorithm.choices, ("", "None")])
    algorithm_version = serializers.CharField()
    score = serializers.IntegerField(
        allow_null=True, help_text="NFIQ 1: 1 is best of 5; NFIQ 2: 100 is best"
    )
    cause = serializers.ChoiceField([*Cause.choices, ("", "None")])
    seconds = serializers.FloatField(allow_null=True)


class MissingShape(Shape):
    """A finger that was not printed: XX for good, UP for now."""

    position = CodeNumber(FingerPosition.choices)
    code = serializers.ChoiceField(MissingCode.choices)
    review_on = serializers.DateField(allow_null=True, help_text="With UP: when to look again")


class OverrideShape(Shape):
    """A capture that is sent on although it fell short."""

    position = CodeNumber(FingerPosition.choices)
    kind = serializers.ChoiceField(OverrideKind.choices)
    reason = serializers.CharField()
    by = serializers.CharField(source="by.username", help_text="Login")
    at = serializers.DateTimeField()


class SessionShape(Shape):
    """One visit. What was seen of the hands is shown to who records sessions, else it is null."""

    appointment = serializers.CharField(source="appointment.code")
    request = serializers.CharField(source="appointment.request.reference")
    site = serializers.CharField(source="appointment.station.site.code")
    station = serializers.CharField(source="appointment.station.code")
    technician = serializers.CharField(source="appointment.technician.code")
    scanner = serializers.SerializerMethodField()
    started_at = serializers.DateTimeField()
    identity_checked_at = serializers.DateTimeField(
        allow_null=True, help_text="That it was done, never what it showed"
    )
    ended_at = serializers.DateTimeField(allow_null=True)
    ended_how = serializers.ChoiceField([*SessionEnd.choices, ("", "Under way")])
    attempts = serializers.SerializerMethodField()
    missing = serializers.SerializerMethodField()
    overrides = serializers.SerializerMethodField()
    note = serializers.SerializerMethodField()

    example: ClassVar[dict[str, Any]] = {
        "appointment": "a-1001",
        "request": "r-1001",
        "site": "north",
        "station": "north-1",
        "technician": "t-1",
        "scanner": "sc-north-1",
        "started_at": "2027-06-09T07:36:10Z",
        "identity_checked_at": "2027-06-09T07:38:02Z",
        "ended_at": None,
        "ended_how": "",
        "attempts": [
            {
                "position": 1,
                "impression": 1,
                "number": 1,
                "kept": True,
                "algorithm": "nfiq2",
                "algorithm_version": "2.3",
                "score": 61,
                "cause": "",
                "seconds": 14.5,
            }
        ],
        "missing": [],
        "overrides": [],
        "note": "",
    }

    def records(self) -> bool:
        """Whether whoever asks records sessions."""
        return may(self.context["user"], "sessions.change")

    def get_scanner(self, row: Any) -> str | None:
        """Code of the scanner."""
        return row.scanner.code if row.scanner else None

    @extend_schema_field(AttemptShape(many=True, allow_null=True))
    def get_attempts(self, row: Any) -> Any:
        """By finger, impression and number."""
        return AttemptShape(row.attempts.all(), many=True).data if self.records() else None

    @extend_schema_field(MissingShape(many=True, allow_null=True))
    def get_missing(self, row: Any) -> Any:
        """By finger."""
        return MissingShape(row.missing.all(), many=True).data if self.records() else None

    @extend_schema_field(OverrideShape(many=True, allow_null=True))
    def get_overrides(self, row: Any) -> Any:
        """By time."""
        return OverrideShape(row.overrides.all(), many=True).data if self.records() else None

    def get_note(self, row: Any) -> str | None:
        """What was written when it ended."""
        return str(row.note) if self.records() else None


class StartIn(Shape):
    """A session to start."""

    scanner = Code(required=False, help_text="Left out: the one that stands on the station")

    example: ClassVar[dict[str, Any]] = {"scanner": "sc-north-1"}


class AttemptIn(Shape):
    """One more try at an impression; give a score with its algorithm and version, or none."""

    position = CodeNumber(FingerPosition.choices, help_text="ANSI/NIST-ITL friction ridge position")
    impression = CodeNumber(ImpressionType.choices, help_text="ANSI/NIST-ITL impression type")
    kept = YesNo(required=False, help_text="True: it is sent on, and no other try of this one")
    algorithm = serializers.ChoiceField(Algorithm.choices, required=False)
    algorithm_version = Text(max_length=32, required=False)
    score = Whole(required=False, min_value=0, max_value=255)
    cause = serializers.ChoiceField(
        Cause.choices, required=False, help_text="Why it was not kept, as the technician saw it"
    )
    seconds = Number(required=False, min_value=0, max_value=3600)

    example: ClassVar[dict[str, Any]] = {
        "position": 1,
        "impression": 1,
        "kept": True,
        "algorithm": "nfiq2",
        "algorithm_version": "2.3",
        "score": 61,
        "seconds": 14.5,
    }

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """A score that its algorithm gives."""
        given = {"algorithm", "algorithm_version", "score"} & set(attrs)
        if 0 < len(given) < 3:
            raise serializers.ValidationError(
                {"score": ["goes with algorithm and algorithm_version: give all three or none."]}
            )
        if given and attrs["score"] not in SCORES[attrs["algorithm"]]:
            words = "1 to 5" if attrs["algorithm"] == Algorithm.NFIQ1 else "0 to 100, 254 or 255"
            raise serializers.ValidationError({"score": [f"is none of its algorithm: {words}."]})
        return attrs


class MissingIn(Shape):
    """A finger that is not printed."""

    position = CodeNumber([(n, FingerPosition(n).label) for n in FINGERS])
    code = serializers.ChoiceField(MissingCode.choices)
    review_on = Day(required=False, help_text="With UP, and only then: when to look again")

    example: ClassVar[dict[str, Any]] = {"position": 4, "code": "UP", "review_on": "2027-06-23"}

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """A day to look again where it is for now."""
        later: date | None = attrs.get("review_on")
        if (attrs["code"] == MissingCode.UNPRINTABLE) != (later is not None):
            raise serializers.ValidationError(
                {"review_on": ["goes with UP: give it there, and leave it out with XX."]}
            )
        return attrs


class OverrideIn(Shape):
    """A capture to send on although it fell short, and why."""

    position = CodeNumber(FingerPosition.choices)
    kind = serializers.ChoiceField(OverrideKind.choices)
    reason = Text(max_length=500, help_text="No names of people, no diagnosis")

    example: ClassVar[dict[str, Any]] = {
        "position": 4,
        "kind": "quality",
        "reason": "best of three tries, the programme's coordinator agreed",
    }


class EndIn(Shape):
    """How a session ends."""

    how = serializers.ChoiceField(SessionEnd.choices)
    note = Text(max_length=500, required=False, help_text="No names of people, no diagnosis")

    example: ClassVar[dict[str, Any]] = {"how": "complete"}
