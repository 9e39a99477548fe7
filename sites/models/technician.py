"""Technicians: what they may do, when they work, and when they are away."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from sites.models.site import Site
from sites.models.spans import WallSpan
from sites.models.words import Skill


class Technician(models.Model):
    """Takes prints. The clock of their absences is that of ``home``."""

    code = models.SlugField(max_length=64, unique=True)
    name = models.CharField(max_length=200)
    home = models.ForeignKey(Site, models.PROTECT, related_name="technicians")
    login = models.OneToOneField(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="technician"
    )
    skills = models.ManyToManyField(Skill, blank=True, related_name="technicians")
    since = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.name


class Certification(models.Model):
    """A technician's certificate, with sessions taken under supervision before it counted."""

    technician = models.ForeignKey(Technician, models.CASCADE, related_name="certifications")
    kind = models.SlugField(max_length=64)
    certificate = models.CharField(max_length=64, blank=True)
    starts_on = models.DateField()
    expires_on = models.DateField()
    supervised = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["technician", "expires_on"]
        constraints = [
            models.UniqueConstraint(
                fields=["technician", "kind", "starts_on"], name="certification_once"
            ),
            models.CheckConstraint(
                condition=Q(expires_on__gt=F("starts_on")),
                name="certification_expires_after_it_starts",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.technician}: {self.kind} until {self.expires_on}"


class Shift(WallSpan):
    """A technician's time at a site; the break lies inside the window (wall minutes of ``day``)."""

    technician = models.ForeignKey(Technician, models.CASCADE, related_name="shifts")
    site = models.ForeignKey(Site, models.PROTECT, related_name="shifts")
    break_minutes = models.PositiveSmallIntegerField(default=0)
    break_from = models.PositiveSmallIntegerField(null=True, blank=True)
    break_to = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta(WallSpan.Meta):
        ordering = ["technician", "starts_at"]
        constraints = [
            *WallSpan.Meta.constraints,
            models.CheckConstraint(
                condition=Q(break_minutes=0, break_from__isnull=True, break_to__isnull=True)
                | Q(
                    break_from__isnull=False,
                    break_to__isnull=False,
                    break_to__gte=F("break_from") + F("break_minutes"),
                ),
                name="shift_break_fits_its_window",
            ),
            models.CheckConstraint(
                condition=Q(break_minutes__lte=F("minutes")), name="shift_holds_its_break"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.technician} {self.day} at {self.site}"


class Break(WallSpan):
    """A shift's break, at the time that a plan or a person gave it."""

    shift = models.OneToOneField(Shift, models.CASCADE, related_name="planned_break")
    technician = models.ForeignKey(Technician, models.CASCADE, related_name="breaks")

    class Meta(WallSpan.Meta):
        ordering = ["technician", "starts_at"]

    def __str__(self) -> str:
        return f"{self.technician} {self.day}: break"


class Absence(WallSpan):
    """A time in which a technician is away. No reason is asked for or kept."""

    technician = models.ForeignKey(Technician, models.CASCADE, related_name="absences")

    class Meta(WallSpan.Meta):
        ordering = ["technician", "starts_at"]

    def __str__(self) -> str:
        return f"{self.technician} away from {self.day}"
