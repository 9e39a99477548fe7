"""Scanner care and downtimes as they are shown and set."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from planner.api.shapes.fields import Code, Day, Shape, Text, WallTime, Whole, YesNo
from sites.models import CareKind, CareOutcome

LONGEST = 14 * 24 * 60


class CareShape(Shape):
    """One piece of care; ``day`` and ``time`` are null while it has none."""

    code = serializers.CharField()
    station = serializers.CharField(source="station.code")
    site = serializers.CharField(source="station.site.code")
    scanner = serializers.SerializerMethodField()
    kind = serializers.ChoiceField(CareKind.choices)
    minutes = serializers.IntegerField()
    needs_technician = serializers.BooleanField()
    technician = serializers.SerializerMethodField()
    earliest = serializers.DateField()
    latest = serializers.DateField()
    fixed = serializers.BooleanField(help_text="True: set by a person, plans leave it there")
    day = serializers.DateField(allow_null=True)
    time = WallTime(source="minute", allow_null=True)
    outcome = serializers.ChoiceField([*CareOutcome.choices, ("", "Open")])
    closed_at = serializers.DateTimeField(allow_null=True)
    note = serializers.CharField()

    def get_scanner(self, row: Any) -> str | None:
        """Code of the scanner it is for."""
        return row.scanner.code if row.scanner else None

    def get_technician(self, row: Any) -> str | None:
        """Code of who does it."""
        return row.technician.code if row.technician else None


class TimeIn(Shape):
    """A time at a station."""

    station = Code()
    day = Day(help_text="On the site's clock")
    time = WallTime(help_text="On the site's clock")
    minutes = Whole(min_value=1, max_value=LONGEST)
    displace = YesNo(
        required=False,
        help_text="True: bookings in the way lose their place, and people have to be told. "
        "Without it the time is refused where somebody is booked.",
    )


class CareIn(TimeIn):
    """Care at a time of one's choice."""

    kind = serializers.ChoiceField(CareKind.choices)
    technician = Code(required=False, help_text="Who does it; left out where nobody is needed")
    note = Text(max_length=500, required=False)


class CareClose(Shape):
    """How care ended."""

    outcome = serializers.ChoiceField(CareOutcome.choices)
    note = Text(max_length=500, required=False)


class DowntimeIn(TimeIn):
    """A time in which a station takes nobody."""

    reason = Text(max_length=200, help_text="What is wrong; no names of people")


class DowntimeShape(Shape):
    """A time in which a station takes nobody, and why."""

    id = serializers.IntegerField()
    station = serializers.CharField(source="station.code")
    site = serializers.CharField(source="station.site.code")
    day = serializers.DateField()
    time = WallTime(source="minute")
    minutes = serializers.IntegerField()
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    reason = serializers.CharField()


class CareSetShape(Shape):
    """The care that was set, and whose appointments lost their place by it."""

    care = CareShape()
    displaced = serializers.ListField(child=serializers.CharField(), help_text="Appointments")


class DowntimeSetShape(Shape):
    """The downtime that was set, and whose appointments lost their place by it."""

    downtime = DowntimeShape()
    displaced = serializers.ListField(child=serializers.CharField(), help_text="Appointments")
