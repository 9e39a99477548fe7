"""What a run proposes, and what somebody accepts of it."""

from __future__ import annotations

from typing import Any, ClassVar

from rest_framework import serializers

from planner.api.shapes.fields import Code, Day, Shape, WallTime
from planner.api.shapes.runs import MOST, WrittenShape
from planner.gateway.review.lines import WORDS, Kind

SHARE = "In [0, 1]"


class WhereShape(Shape):
    """A place and a time, on the site's clock."""

    site = serializers.CharField()
    station = serializers.CharField()
    technician = serializers.CharField()
    day = serializers.DateField()
    told = WallTime(help_text="What the person hears")
    minutes = serializers.IntegerField(help_text="The planned length")

    example: ClassVar[dict[str, Any]] = {
        "site": "north",
        "station": "north-1",
        "technician": "t-1",
        "day": "2027-06-09",
        "told": "09:30",
        "minutes": 18,
    }


class ReasonShape(Shape):
    """Why a request has no place: what the plan lacked, nothing about the person."""

    code = serializers.CharField()
    detail = serializers.CharField()
    remedy = serializers.CharField(help_text="The nearest thing that would change it")


class RunLineShape(Shape):
    """What would happen to one request."""

    request = serializers.CharField()
    kind = serializers.ChoiceField([(each.value, WORDS[each]) for each in Kind])
    due = serializers.DateField()
    rework = serializers.BooleanField()
    now = WhereShape(allow_null=True, help_text="Where it would be")
    was = WhereShape(allow_null=True, help_text="Where it is")
    late_days = serializers.IntegerField(help_text="After the due date; 0: in time")
    p_wait = serializers.FloatField(help_text="Chance of a longer wait than promised")
    over_promise = serializers.BooleanField(source="over", help_text="Only a fixed one can be")
    why = serializers.CharField(help_text="Meaning of the leading reason; empty: it has a place")
    reasons = ReasonShape(many=True)

    example: ClassVar[dict[str, Any]] = {
        "request": "r-1001",
        "kind": "new",
        "due": "2027-06-18",
        "rework": False,
        "now": WhereShape.example,
        "was": None,
        "late_days": 0,
        "p_wait": 0.06,
        "over_promise": False,
        "why": "",
        "reasons": [],
    }


class LinesQuery(Shape):
    """Which lines are listed."""

    kind = serializers.ChoiceField(
        [(each.value, WORDS[each]) for each in Kind],
        required=False,
        help_text="What would happen to them.",
    )
    site = Code(required=False, help_text="Code of the site where they would be, or are.")
    day = Day(required=False, help_text="The day on which they would be, or are.")
    begins = Code(required=False, help_text="How the request's reference begins.")


class RunFiguresShape(Shape):
    """What a plan comes to; null where nobody knows it."""

    requests = serializers.IntegerField(help_text="Asked for, and whoever has a place already")
    booked = serializers.IntegerField()
    left = serializers.IntegerField(help_text="Without a place in these days")
    overdue = serializers.IntegerField(help_text="Of those, due within these days")
    late = serializers.IntegerField(help_text="Booked after the due date")
    moved = serializers.IntegerField(help_text="Appointments that would not stand")
    wait_days = serializers.FloatField(
        allow_null=True, help_text="Mean days from release to the session"
    )
    minutes = serializers.IntegerField(help_text="Planned, of all sessions")
    worst = serializers.FloatField(
        allow_null=True, help_text="Largest chance of a long wait among those placed"
    )
    cost = serializers.FloatField(help_text="What the programme's costs come to")
    bound = serializers.FloatField(allow_null=True)
    gap = serializers.FloatField(allow_null=True)

    example: ClassVar[dict[str, Any]] = {
        "requests": 261,
        "booked": 256,
        "left": 5,
        "overdue": 0,
        "late": 2,
        "moved": 3,
        "wait_days": 6.4,
        "minutes": 4812,
        "worst": 0.1,
        "cost": 1871.5,
        "bound": 1802.25,
        "gap": 0.0384,
    }


class LoadShape(Shape):
    """How full a site's day would be, in minutes."""

    site = serializers.CharField()
    day = serializers.DateField()
    booked = serializers.IntegerField(help_text="Sessions")
    planned = serializers.IntegerField()
    room = serializers.IntegerField(help_text="What stations and technicians can hold")

    example: ClassVar[dict[str, Any]] = {
        "site": "north",
        "day": "2027-06-09",
        "booked": 24,
        "planned": 441,
        "room": 520,
    }


class DifferenceShape(Shape):
    """Requests of two plans: told the same in both, something else, or booked in one alone."""

    same = serializers.IntegerField()
    other = serializers.IntegerField()
    only_here = serializers.IntegerField()
    only_there = serializers.IntegerField()


class BesideShape(Shape):
    """An earlier run beside this one."""

    run = serializers.IntegerField()
    figures = RunFiguresShape()
    difference = DifferenceShape()


class CountsShape(Shape):
    """How many lines of each kind there are."""

    new = serializers.IntegerField()
    moved = serializers.IntegerField()
    loses = serializers.IntegerField()
    out = serializers.IntegerField()
    stands = serializers.IntegerField()


class PlanQuery(Shape):
    """What the plan is put beside."""

    beside = serializers.IntegerField(
        required=False, min_value=1, max_value=2**63 - 1, help_text="Number of an earlier run."
    )


class PlanShape(Shape):
    """A run's plan as a whole, beside what is booked and beside an earlier run."""

    run = serializers.IntegerField()
    plan = serializers.CharField(help_text="SHA-256 of the plan")
    counts = CountsShape()
    wait_minutes = serializers.IntegerField(help_text="The wait that the promise is about")
    wait_risk = serializers.FloatField(help_text="Chance of a longer wait that it allows")
    figures = RunFiguresShape()
    in_force = RunFiguresShape(help_text="What was booked when the run began")
    beside = BesideShape(allow_null=True)
    load = LoadShape(many=True)

    example: ClassVar[dict[str, Any]] = {
        "run": 17,
        "plan": "9b2e4f0c6d1a58e37f4c9b2e4f0c6d1a58e37f4c9b2e4f0c6d1a58e37f4c0a11",
        "counts": {"new": 212, "moved": 3, "loses": 0, "out": 5, "stands": 41},
        "wait_minutes": 10,
        "wait_risk": 0.1,
        "figures": RunFiguresShape.example,
        "in_force": {
            **RunFiguresShape.example,
            "booked": 44,
            "left": 217,
            "moved": 0,
            "worst": None,
            "cost": 9110.0,
            "bound": None,
            "gap": None,
        },
        "beside": {
            "run": 16,
            "figures": RunFiguresShape.example,
            "difference": {"same": 240, "other": 9, "only_here": 7, "only_there": 4},
        },
        "load": [LoadShape.example],
    }


class ChangedShape(Shape):
    """Something of the plan that the record does not take as it stands now."""

    what = serializers.CharField()
    request = serializers.CharField(help_text="Its reference; empty where it is no request")
    problem = serializers.CharField()
    remedy = serializers.CharField()


class MeanwhileShape(Shape):
    """What came, or would come now, of accepting all of a plan, and what the record refuses."""

    accepted = serializers.BooleanField(help_text="True: it was accepted, and this came of it")
    would = WrittenShape()
    changed = ChangedShape(many=True, help_text="Left as the record has it, never overwritten")

    example: ClassVar[dict[str, Any]] = {
        "accepted": False,
        "would": WrittenShape.example,
        "changed": [
            {
                "what": "booking",
                "request": "r-1002",
                "problem": "was booked meanwhile",
                "remedy": "plan again",
            }
        ],
    }


class AcceptIn(Shape):
    """What of the plan is accepted: all changes, some, or all but some."""

    requests = serializers.ListField(
        child=Code(),
        required=False,
        min_length=1,
        max_length=MOST,
        help_text="Changes to accept; left out: all. To accept none, put the plan aside.",
    )
    without = serializers.ListField(
        child=Code(),
        required=False,
        max_length=MOST,
        help_text="Changes to leave out, instead of naming those to accept",
    )

    example: ClassVar[dict[str, Any]] = {"without": ["r-1002"]}

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """One list, not both."""
        if "requests" in attrs and "without" in attrs:
            raise serializers.ValidationError(
                {"without": ["goes without `requests`: name those to accept, or those to leave."]}
            )
        return attrs
