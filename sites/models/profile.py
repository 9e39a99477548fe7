"""Kinds of capture session: how long they take and how often captures are retaken."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from sites.models.spans import one_of
from sites.models.words import Skill


class CaptureKind(models.TextChoices):
    """How fingers meet the platen."""

    PLAIN = "plain", "Plain"
    ROLLED = "rolled", "Rolled"


class Profile(models.Model):
    """A kind of session. Setup and wrap-up in minutes, remedy in seconds."""

    code = models.SlugField(max_length=64, unique=True)
    name = models.CharField(max_length=200, blank=True)
    setup_mean = models.FloatField()
    setup_sd = models.FloatField(default=0)
    max_attempts = models.PositiveSmallIntegerField(default=3)
    remedy_seconds = models.FloatField(default=0)
    wrapup_minutes = models.FloatField(default=0)
    no_show = models.FloatField(default=0)
    skills = models.ManyToManyField(Skill, blank=True, related_name="profiles")

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    setup_mean__gte=0,
                    setup_sd__gte=0,
                    remedy_seconds__gte=0,
                    wrapup_minutes__gte=0,
                    max_attempts__gte=1,
                ),
                name="profile_durations_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(no_show__range=(0, 1)), name="profile_no_show_is_a_chance"
            ),
        ]

    def __str__(self) -> str:
        return self.name or self.code


class ProfileCapture(models.Model):
    """``count`` captures of one kind; ``retake`` is the chance that one must be taken again."""

    profile = models.ForeignKey(Profile, models.CASCADE, related_name="captures")
    order = models.PositiveSmallIntegerField(default=0)
    kind = models.CharField(max_length=8, choices=CaptureKind)
    count = models.PositiveSmallIntegerField()
    seconds = models.FloatField()
    retake = models.FloatField()

    class Meta:
        ordering = ["profile", "order"]
        constraints = [
            models.UniqueConstraint(fields=["profile", "order"], name="profile_capture_order"),
            one_of("kind", CaptureKind, "profile_capture_kind_known"),
            models.CheckConstraint(
                condition=Q(count__gte=1, seconds__gte=0, retake__gte=0, retake__lt=1),
                name="profile_capture_is_possible",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.count} {self.kind}"
