"""Stations, the scanners on them, and times in which a station is down."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from sites.models.site import Site
from sites.models.spans import WallSpan
from sites.models.words import Feature


class Station(models.Model):
    """A desk at a site. A scanner can move or be swapped; a station stays."""

    code = models.SlugField(max_length=64, unique=True)
    name = models.CharField(max_length=120, blank=True)
    site = models.ForeignKey(Site, models.PROTECT, related_name="stations")
    features = models.ManyToManyField(Feature, blank=True, related_name="stations")
    in_use = models.BooleanField(default=True)

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.name or self.code


class Scanner(models.Model):
    """A live-scan device. ``certified_on`` is the date of its type certificate."""

    code = models.SlugField(max_length=64, unique=True)
    serial = models.CharField(max_length=64, unique=True)
    takes_rolled = models.BooleanField(default=True, help_text="Unset: flats only")
    certified_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.code


class ScannerPlacement(models.Model):
    """A scanner stands on a station from ``starts_on`` until before ``ends_on`` (open: still)."""

    scanner = models.ForeignKey(Scanner, models.PROTECT, related_name="placements")
    station = models.ForeignKey(Station, models.PROTECT, related_name="placements")
    starts_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["scanner", "starts_on"]
        constraints = [
            models.UniqueConstraint(
                fields=["scanner"], condition=Q(ends_on__isnull=True), name="scanner_on_one_station"
            ),
            models.UniqueConstraint(
                fields=["station"], condition=Q(ends_on__isnull=True), name="station_one_scanner"
            ),
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True) | Q(ends_on__gt=F("starts_on")),
                name="placement_ends_after_it_starts",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.scanner} on {self.station} from {self.starts_on}"


class Downtime(WallSpan):
    """A time in which a station takes nobody, and why."""

    station = models.ForeignKey(Station, models.PROTECT, related_name="downtimes")
    reason = models.CharField(max_length=200)

    class Meta(WallSpan.Meta):
        ordering = ["station", "starts_at"]
        constraints = [
            *WallSpan.Meta.constraints,
            models.CheckConstraint(condition=~Q(reason=""), name="downtime_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.station} {self.day}: {self.reason}"
