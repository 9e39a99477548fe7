"""Planning runs as they are asked for and followed."""

from __future__ import annotations

from typing import Any, ClassVar

from rest_framework import serializers

from planner.api.shapes.fields import Code, Day, Shape, Whole
from planner.api.shapes.places import Codes
from planner.gateway.runs.scope import LONGEST, LONGEST_SECONDS, USUAL_SECONDS, Which
from sites.models import RunState

MOST = 20_000
"""Requests that one body may name."""


class RunIn(Shape):
    """What to plan, and how long to think."""

    first_day = Day(help_text="Today or later")
    days = Whole(min_value=1, max_value=LONGEST, help_text="Calendar days, weekends included")
    sites = serializers.ListField(
        child=Code(), required=False, max_length=200, help_text="Codes; left out: all in your view"
    )
    which = serializers.ChoiceField(
        [(each.value, each.value) for each in Which],
        required=False,
        help_text="Requests that still need a session: `all` of them (left out: so), `rework` "
        "alone, those `due` by a day, or those `listed`",
    )
    due = Day(required=False, help_text="With `due`: the last due date that counts")
    requests = serializers.ListField(
        child=Code(), required=False, min_length=1, max_length=MOST, help_text="With `listed`"
    )
    seconds = Whole(
        required=False,
        min_value=1,
        max_value=LONGEST_SECONDS,
        help_text=f"How long to think; left out: {USUAL_SECONDS}",
    )

    example: ClassVar[dict[str, Any]] = {
        "first_day": "2027-06-07",
        "days": 14,
        "sites": ["north", "south"],
        "which": "due",
        "due": "2027-06-30",
        "seconds": 300,
    }

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """What a choice of requests needs, and nothing that another would need."""
        which = Which(attrs.setdefault("which", Which.ALL))
        for name, choice in (("due", Which.DUE), ("requests", Which.LISTED)):
            if which == choice and name not in attrs:
                raise serializers.ValidationError({name: [f"is needed with {choice}: give it."]})
            if which != choice and name in attrs:
                raise serializers.ValidationError(
                    {name: [f"goes with {choice} alone: leave it out, or choose {choice}."]}
                )
        return attrs


class WrittenShape(Shape):
    """What came of a plan that was accepted, or would come of it now, as counts."""

    booked = serializers.IntegerField(help_text="New appointments")
    moved = serializers.IntegerField(help_text="To another station, technician or told time")
    dropped = serializers.IntegerField(help_text="Appointments that lose their place")
    stood = serializers.IntegerField(help_text="Appointments that stay as they are")
    care = serializers.IntegerField(help_text="Scanner care with a new time")
    breaks = serializers.IntegerField(help_text="Breaks with a new time")

    example: ClassVar[dict[str, Any]] = {
        "booked": 212,
        "moved": 3,
        "dropped": 0,
        "stood": 41,
        "care": 4,
        "breaks": 38,
    }


class RunShape(Shape):
    """A planning run; ``cost``, ``bound``, ``gap`` and ``booked`` are of the best plan so far.

    While it plans it changes every second, and its ETag with it.
    """

    number = serializers.IntegerField(source="pk")
    state = serializers.ChoiceField(RunState.choices)
    stage = serializers.CharField(help_text="What it does while it plans; else empty")
    first_day = serializers.DateField()
    days = serializers.IntegerField()
    sites = Codes(help_text="Codes; empty: all sites")
    asked = serializers.SerializerMethodField()
    seconds = serializers.FloatField(allow_null=True, help_text="How long it may think")
    effort = serializers.IntegerField(allow_null=True, help_text="Instead of seconds")
    by = serializers.SerializerMethodField()
    created_at = serializers.DateTimeField()
    started_at = serializers.DateTimeField(allow_null=True)
    ended_at = serializers.DateTimeField(allow_null=True)
    cost = serializers.FloatField(source="objective", allow_null=True)
    bound = serializers.FloatField(
        allow_null=True, help_text="No plan with these lengths costs less"
    )
    gap = serializers.FloatField(allow_null=True, help_text="(cost - bound) / bound")
    booked = serializers.IntegerField()
    unbooked = serializers.IntegerField(help_text="Left out, once the plan is whole")
    plan = serializers.CharField(
        source="plan_digest", help_text="SHA-256 of the plan; empty: none yet"
    )
    error = serializers.CharField(help_text="Why it ended early, where it did")
    cancel_asked_at = serializers.DateTimeField(allow_null=True)
    kept_at = serializers.DateTimeField(allow_null=True, help_text="When its plan was accepted")
    outcome = WrittenShape(allow_null=True, help_text="What came of accepting it")

    example: ClassVar[dict[str, Any]] = {
        "number": 17,
        "state": "ready",
        "stage": "",
        "first_day": "2027-06-07",
        "days": 14,
        "sites": ["north", "south"],
        "asked": 231,
        "seconds": 300.0,
        "effort": None,
        "by": "coordinator",
        "created_at": "2027-06-04T08:12:31Z",
        "started_at": "2027-06-04T08:12:32Z",
        "ended_at": "2027-06-04T08:17:36Z",
        "cost": 1871.5,
        "bound": 1802.25,
        "gap": 0.0384,
        "booked": 256,
        "unbooked": 5,
        "plan": "9b2e4f0c6d1a58e37f4c9b2e4f0c6d1a58e37f4c9b2e4f0c6d1a58e37f4c0a11",
        "error": "",
        "cancel_asked_at": None,
        "kept_at": None,
        "outcome": None,
    }

    def get_asked(self, run: Any) -> int | None:
        """How many requests were named; null: all that need a session."""
        return None if run.requests is None else len(run.requests)

    def get_by(self, run: Any) -> str | None:
        """Login of who asked for it."""
        return run.by.get_username() if run.by else None
