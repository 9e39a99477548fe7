"""The scores under which a capture is short, as part of a programme's terms."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from sites.models.codes import Algorithm, FingerPosition, ImpressionType
from sites.models.programme import ProgrammeVersion
from sites.models.spans import one_of


class Threshold(models.Model):
    """The worst score of an algorithm's version at which a finger's impression is good enough.

    NFIQ 1: at most this score. NFIQ 2: at least this score. A version left blank means any.
    """

    terms = models.ForeignKey(ProgrammeVersion, models.CASCADE, related_name="thresholds")
    algorithm = models.CharField(max_length=8, choices=Algorithm)
    algorithm_version = models.CharField(max_length=32, blank=True)
    position = models.PositiveSmallIntegerField(choices=FingerPosition)
    impression = models.PositiveSmallIntegerField(choices=ImpressionType)
    score = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["terms", "algorithm", "impression", "position"]
        constraints = [
            models.UniqueConstraint(
                fields=["terms", "algorithm", "algorithm_version", "position", "impression"],
                name="threshold_once",
            ),
            one_of("position", FingerPosition, "threshold_position_known"),
            one_of("impression", ImpressionType, "threshold_impression_known"),
            models.CheckConstraint(
                condition=Q(algorithm=Algorithm.NFIQ1, score__range=(1, 5))
                | Q(algorithm=Algorithm.NFIQ2, score__range=(0, 100)),
                name="threshold_score_of_its_algorithm",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_position_display()}: {self.score}"
