"""Sites: where, when they are open, and when not."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from sites.clock import zone_of
from sites.errors import BadValue
from sites.models.spans import MINUTES_A_DAY, WallSpan
from sites.public_holidays import holidays_of


class Site(models.Model):
    """A place with stations. Network files use ``code``; ``timezone`` is an IANA name."""

    code = models.SlugField(max_length=64, unique=True)
    name = models.CharField(max_length=200)
    timezone = models.CharField(max_length=64)
    directions = models.TextField(
        blank=True, help_text="Street, floor, way in without steps; shown in invitations"
    )
    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)
    holiday_country = models.CharField(
        max_length=8, blank=True, help_text="ISO 3166-1 code; closed on its public holidays"
    )
    holiday_subdivision = models.CharField(max_length=8, blank=True, help_text="ISO 3166-2 part")

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(condition=~Q(timezone=""), name="site_has_a_zone"),
            models.CheckConstraint(
                condition=Q(latitude__isnull=True, longitude__isnull=True)
                | Q(
                    latitude__isnull=False,
                    longitude__isnull=False,
                    latitude__range=(-90, 90),
                    longitude__range=(-180, 180),
                ),
                name="site_is_on_earth",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """Refuse a zone, a country or a part of it that nothing is known of."""
        super().clean()
        asked: dict[str, Callable[[], object]] = {
            "timezone": lambda: zone_of(self.timezone),
            "holiday_country": lambda: holidays_of(self.holiday_country, "", ()),
            "holiday_subdivision": lambda: holidays_of(
                self.holiday_country, self.holiday_subdivision, ()
            ),
        }
        faults: dict[str, Any] = {}
        for field, ask in asked.items():
            try:
                ask()
            except BadValue as error:
                faults[field] = str(error)
        if "holiday_country" in faults:
            faults.pop("holiday_subdivision", None)
        if faults:
            raise ValidationError(faults)


class OpeningHours(models.Model):
    """Weekly hours: weekday 0 is Monday; ``[opens, closes)`` in minutes past midnight.

    They hold from ``starts_on`` until before ``ends_on``, where given.
    """

    site = models.ForeignKey(Site, models.CASCADE, related_name="hours")
    weekday = models.PositiveSmallIntegerField()
    opens = models.PositiveSmallIntegerField()
    closes = models.PositiveSmallIntegerField()
    starts_on = models.DateField(null=True, blank=True)
    ends_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["site", "weekday", "opens"]
        verbose_name_plural = "opening hours"
        constraints = [
            models.CheckConstraint(condition=Q(weekday__lte=6), name="hours_weekday_known"),
            models.CheckConstraint(
                condition=Q(closes__gt=F("opens"), closes__lte=MINUTES_A_DAY),
                name="hours_within_one_day",
            ),
            models.CheckConstraint(
                condition=Q(starts_on__isnull=True)
                | Q(ends_on__isnull=True)
                | Q(ends_on__gt=F("starts_on")),
                name="hours_end_after_they_start",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.site} {self.weekday} {self.opens}-{self.closes}"


class SpecialHours(models.Model):
    """Hours of one day, in place of the weekly ones and of a public holiday."""

    site = models.ForeignKey(Site, models.CASCADE, related_name="special_hours")
    day = models.DateField()
    opens = models.PositiveSmallIntegerField()
    closes = models.PositiveSmallIntegerField()
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["site", "day", "opens"]
        verbose_name_plural = "special hours"
        constraints = [
            models.UniqueConstraint(fields=["site", "day", "opens"], name="special_hours_once"),
            models.CheckConstraint(
                condition=Q(closes__gt=F("opens"), closes__lte=MINUTES_A_DAY),
                name="special_hours_within_one_day",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.site} {self.day} {self.opens}-{self.closes}"


class Closure(WallSpan):
    """A time in which the whole site is closed, and why."""

    site = models.ForeignKey(Site, models.CASCADE, related_name="closures")
    reason = models.CharField(max_length=200)

    class Meta(WallSpan.Meta):
        ordering = ["site", "starts_at"]
        constraints = [
            *WallSpan.Meta.constraints,
            models.CheckConstraint(condition=~Q(reason=""), name="closure_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.site} {self.day}: {self.reason}"


class Reserve(models.Model):
    """Minutes of a site's day that only rework may use."""

    site = models.ForeignKey(Site, models.CASCADE, related_name="reserves")
    day = models.DateField()
    minutes = models.PositiveIntegerField()

    class Meta:
        ordering = ["site", "day"]
        constraints = [models.UniqueConstraint(fields=["site", "day"], name="reserve_once_a_day")]

    def __str__(self) -> str:
        return f"{self.site} {self.day}: {self.minutes} min"
