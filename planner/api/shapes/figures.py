"""A day, the figures of a period and the outlook, as they are shown."""

from __future__ import annotations

from rest_framework import serializers

from planner.api.shapes.appointments import AppointmentShape
from planner.api.shapes.care import CareShape
from planner.api.shapes.fields import Shape, WallTime


class WindowShape(Shape):
    """A time of a day, on the site's clock; 24:00 ends the day."""

    starts = WallTime()
    ends = WallTime()


class ClosedShape(WindowShape):
    """A time in which a station takes nobody."""

    station = serializers.CharField()
    why = serializers.CharField()


class ShiftShape(WindowShape):
    """A technician's time at the site."""

    technician = serializers.CharField()


class DayShape(Shape):
    """Everybody and everything that has a time at a site on a day."""

    site = serializers.CharField()
    day = serializers.DateField()
    timezone = serializers.CharField()
    open = WindowShape(many=True)
    closed = ClosedShape(many=True)
    shifts = ShiftShape(many=True)
    breaks = ShiftShape(many=True)
    appointments = AppointmentShape(many=True)
    care = CareShape(many=True)


class PeriodQuery(Shape):
    """How far back the figures look."""

    days = serializers.IntegerField(
        required=False, min_value=1, max_value=366, default=90, help_text="Days before today."
    )


class FigureShape(Shape):
    """A figure: a number, or a share ``hits`` of ``n`` with its 95 % interval."""

    key = serializers.CharField()
    meaning = serializers.CharField()
    value = serializers.FloatField(allow_null=True)
    hits = serializers.IntegerField(allow_null=True)
    n = serializers.IntegerField()
    low = serializers.FloatField(allow_null=True, help_text="Wilson score interval")
    high = serializers.FloatField(allow_null=True)


class FiguresShape(Shape):
    """The figures of a period; ``first`` and ``last`` are both included."""

    first = serializers.DateField()
    last = serializers.DateField()
    figures = FigureShape(many=True)


class WeekShape(Shape):
    """A site's week, in minutes unless said otherwise."""

    first = serializers.DateField()
    last = serializers.DateField()
    room = serializers.IntegerField(help_text="What stations and technicians can hold")
    booked = serializers.IntegerField()
    due = serializers.IntegerField(help_text="Sessions without a place that fall due")
    due_sessions = serializers.IntegerField()
    rework = serializers.FloatField(help_text="Expected of image returns")
    rework_low = serializers.FloatField()
    rework_high = serializers.FloatField()
    short = serializers.FloatField(help_text="What must be done by its end and cannot; 0: it fits")
    short_low = serializers.FloatField()
    short_high = serializers.FloatField()
    staffed = serializers.BooleanField()


class LineShape(Shape):
    """A site's weeks."""

    site = serializers.CharField(source="site.code")
    weeks = WeekShape(many=True)


class OutlookShape(Shape):
    """The next weeks of the sites in view: an estimate, not a promise."""

    since = serializers.DateField(help_text="Returns since then say how many are expected")
    session_minutes = serializers.FloatField()
    lines = LineShape(many=True)
