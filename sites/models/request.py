"""Requests: one need for an accepted set of prints, and where and when it can be met."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from sites.models.profile import Profile
from sites.models.programme import ProgrammeVersion
from sites.models.site import Site
from sites.models.subject import Subject
from sites.models.words import Feature, Skill


class Request(models.Model):
    """One need for an accepted set of prints. Where it stands follows from what happened.

    ``terms`` are the programme's parameters of the day it was received. ``rework_of`` is the
    request whose returned set this one replaces. ``closed_at`` is set where the need itself ended
    without an accepted set (withdrawn); everything else is read from sessions and responses.
    """

    reference = models.SlugField(max_length=64, unique=True)
    subject = models.ForeignKey(Subject, models.PROTECT, related_name="requests")
    terms = models.ForeignKey(ProgrammeVersion, models.PROTECT, related_name="requests")
    profile = models.ForeignKey(Profile, models.PROTECT, related_name="requests")
    control_number = models.CharField(max_length=64, blank=True)
    received = models.DateField()
    release = models.DateField()
    due = models.DateField()
    expires = models.DateField(null=True, blank=True)
    priority = models.FloatField(default=1)
    cost_unbooked = models.FloatField(null=True, blank=True)
    rework_of = models.ForeignKey(
        "self", models.PROTECT, null=True, blank=True, related_name="reworks"
    )
    rework = models.BooleanField(default=False)
    resubmissions = models.PositiveSmallIntegerField(default=0)
    features = models.ManyToManyField(Feature, blank=True, related_name="requests")
    skills = models.ManyToManyField(Skill, blank=True, related_name="requests")
    advice = models.TextField(
        blank=True, help_text="Why this session is asked for as it is; needs, never a diagnosis"
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["due", "reference"]
        indexes = [models.Index(fields=["due"]), models.Index(fields=["release"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(due__gte=F("release")), name="request_due_after_release"
            ),
            models.CheckConstraint(
                condition=Q(expires__isnull=True) | Q(expires__gte=F("due")),
                name="request_expires_after_due",
            ),
            models.CheckConstraint(condition=Q(priority__gt=0), name="request_priority_positive"),
            models.CheckConstraint(
                condition=Q(cost_unbooked__isnull=True) | Q(cost_unbooked__gte=0),
                name="request_cost_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(rework_of__isnull=True) | (Q(rework=True) & ~Q(rework_of=F("id"))),
                name="request_rework_of_another",
            ),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True) | ~Q(closed_why=""),
                name="request_closed_says_why",
            ),
        ]

    def __str__(self) -> str:
        return self.reference


class RequestSite(models.Model):
    """A site that can take the request; travel in minutes, and the profile learnt there."""

    request = models.ForeignKey(Request, models.CASCADE, related_name="at_sites")
    site = models.ForeignKey(Site, models.PROTECT, related_name="for_requests")
    travel = models.PositiveSmallIntegerField(default=0)
    profile = models.ForeignKey(
        Profile, models.PROTECT, null=True, blank=True, related_name="at_sites"
    )

    class Meta:
        ordering = ["request", "id"]
        constraints = [
            models.UniqueConstraint(fields=["request", "site"], name="request_site_once")
        ]

    def __str__(self) -> str:
        return f"{self.request} at {self.site}"


class RequestTime(models.Model):
    """A time in which the subject can come, on the clock of whichever site; none: any time."""

    request = models.ForeignKey(Request, models.CASCADE, related_name="times")
    day = models.DateField()
    minute = models.PositiveSmallIntegerField()
    minutes = models.PositiveIntegerField()

    class Meta:
        ordering = ["request", "day", "minute"]
        constraints = [
            models.UniqueConstraint(fields=["request", "day", "minute"], name="request_time_once"),
            models.CheckConstraint(
                condition=Q(minute__lt=24 * 60, minutes__gt=0), name="request_time_is_a_span"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.request} {self.day}"
