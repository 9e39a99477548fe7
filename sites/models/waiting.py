"""The waiting list: who would take a time that comes free, and what was proposed to them."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from sites.models.appointment import Appointment
from sites.models.request import Request
from sites.models.site import Site
from sites.models.spans import WallSpan
from sites.models.station import Station
from sites.models.technician import Technician

HOURS_AHEAD = 24
"""How long before a time somebody on the list has to hear of it; our default."""


class WaitingEnd(models.TextChoices):
    """How waiting ended; still waiting while blank."""

    TOOK = "took", "Took a time"
    STOPPED = "stopped", "Taken off the list"
    OVER = "over", "No longer needed"


class DayPart(models.TextChoices):
    """The part of a day that somebody can come in; any while blank."""

    MORNING = "am", "Before noon"
    AFTERNOON = "pm", "From noon on"


class Waiting(models.Model):
    """A request that waits for a time to come free, and which times would do.

    ``first_day`` and ``last_day`` are included; ``site`` none: any that the request accepts. A
    request with an appointment waits for an earlier one and keeps its place meanwhile.
    """

    request = models.ForeignKey(Request, models.PROTECT, related_name="waits")
    since = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    site = models.ForeignKey(Site, models.PROTECT, null=True, blank=True, related_name="+")
    first_day = models.DateField(null=True, blank=True)
    last_day = models.DateField(null=True, blank=True)
    part = models.CharField(max_length=2, choices=DayPart, blank=True)
    hours_ahead = models.PositiveSmallIntegerField(default=HOURS_AHEAD)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_how = models.CharField(max_length=8, choices=WaitingEnd, blank=True)

    class Meta:
        ordering = ["since", "id"]
        verbose_name_plural = "waiting"
        constraints = [
            models.UniqueConstraint(
                fields=["request"], condition=Q(ended_at__isnull=True), name="waiting_once"
            ),
            models.CheckConstraint(
                condition=Q(last_day__isnull=True)
                | Q(first_day__isnull=True)
                | Q(last_day__gte=F("first_day")),
                name="waiting_days_in_order",
            ),
            models.CheckConstraint(
                condition=Q(part__in=["", *DayPart.values]), name="waiting_part_known"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_how="")
                | (Q(ended_at__isnull=False) & Q(ended_how__in=WaitingEnd.values)),
                name="waiting_end_says_how",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.request} since {self.since:%Y-%m-%d %H:%M}"


class ProposalAnswer(models.TextChoices):
    """What became of a proposal; open while blank."""

    TAKEN = "taken", "Taken"
    DECLINED = "declined", "Declined"
    LAPSED = "lapsed", "Lapsed"


class Proposal(WallSpan):
    """A free time that is put to somebody on the waiting list. It holds no place by itself.

    ``slack`` is what the request could still lose, in days, when it was put first.
    """

    waiting = models.ForeignKey(Waiting, models.PROTECT, related_name="proposals")
    station = models.ForeignKey(Station, models.PROTECT, related_name="+")
    technician = models.ForeignKey(Technician, models.PROTECT, related_name="+")
    told_minute = models.PositiveSmallIntegerField()
    p_wait = models.FloatField(null=True, blank=True)
    slack = models.IntegerField()
    made_at = models.DateTimeField()
    answer = models.CharField(max_length=8, choices=ProposalAnswer, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    appointment = models.ForeignKey(
        Appointment, models.PROTECT, null=True, blank=True, related_name="from_proposals"
    )

    class Meta(WallSpan.Meta):
        ordering = ["made_at", "id"]
        constraints = [
            *WallSpan.Meta.constraints,
            models.UniqueConstraint(
                fields=["waiting"], condition=Q(answer=""), name="proposal_one_open_each"
            ),
            models.UniqueConstraint(
                fields=["station", "starts_at"], condition=Q(answer=""), name="proposal_of_one_time"
            ),
            models.CheckConstraint(
                condition=Q(told_minute__lte=F("minute")), name="proposal_told_before_start"
            ),
            models.CheckConstraint(
                condition=Q(answer="", answered_at__isnull=True, appointment__isnull=True)
                | Q(answer="taken", answered_at__isnull=False, appointment__isnull=False)
                | Q(
                    answer__in=["declined", "lapsed"],
                    answered_at__isnull=False,
                    appointment__isnull=True,
                ),
                name="proposal_answer_is_whole",
            ),
            models.CheckConstraint(
                condition=Q(p_wait__isnull=True) | Q(p_wait__range=(0, 1)),
                name="proposal_p_wait_is_a_chance",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.waiting.request}: {self.day}"
