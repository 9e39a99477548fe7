"""Appointments: a request has a station, a technician and a time."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from sites.models.planrun import PlanRun
from sites.models.request import Request
from sites.models.spans import WallSpan, one_of
from sites.models.station import Station
from sites.models.subject import Subject
from sites.models.technician import Technician
from sites.step import ACTIVE, Step


class Appointment(WallSpan):
    """A booking. ``told_minute`` is the time that the person hears, ``minute`` the planned start.

    ``subject`` repeats the request's, so that the database can refuse one person in two places.
    ``p_wait`` is the chance of waiting longer than the terms say, as the plan computed it.
    """

    code = models.SlugField(max_length=64, unique=True)
    request = models.ForeignKey(Request, models.PROTECT, related_name="appointments")
    subject = models.ForeignKey(Subject, models.PROTECT, related_name="appointments")
    station = models.ForeignKey(Station, models.PROTECT, related_name="appointments")
    technician = models.ForeignKey(Technician, models.PROTECT, related_name="appointments")
    told_minute = models.PositiveSmallIntegerField()
    p_wait = models.FloatField(null=True, blank=True)
    fixed = models.BooleanField(default=False)
    step = models.CharField(max_length=10, choices=Step, default=Step.BOOKED)
    why = models.CharField(max_length=200, blank=True, help_text="Why it last changed")
    version = models.PositiveIntegerField(default=1)
    plan_run = models.ForeignKey(
        PlanRun, models.SET_NULL, null=True, blank=True, related_name="appointments"
    )

    class Meta(WallSpan.Meta):
        ordering = ["starts_at", "code"]
        indexes = [
            models.Index(fields=["day", "station"]),
            models.Index(fields=["step", "starts_at"]),
        ]
        constraints = [
            *WallSpan.Meta.constraints,
            one_of("step", Step, "appointment_step_known"),
            models.UniqueConstraint(
                fields=["request"],
                condition=Q(step__in=ACTIVE),
                name="request_one_active_appointment",
            ),
            models.CheckConstraint(
                condition=Q(told_minute__lte=F("minute")), name="appointment_told_before_start"
            ),
            models.CheckConstraint(
                condition=Q(p_wait__isnull=True) | Q(p_wait__range=(0, 1)),
                name="appointment_p_wait_is_a_chance",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code}: {self.request} {self.day}"


class AppointmentEvent(models.Model):
    """One thing that happened to an appointment; never changed, never deleted.

    But for ``why``, which a purge takes away with the person's name.
    """

    appointment = models.ForeignKey(Appointment, models.PROTECT, related_name="events")
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    what = models.CharField(max_length=16)
    step = models.CharField(max_length=10, choices=Step)
    why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["appointment", "at", "id"]
        constraints = [one_of("step", Step, "appointment_event_step_known")]

    def __str__(self) -> str:
        return f"{self.appointment_id}: {self.what}"
