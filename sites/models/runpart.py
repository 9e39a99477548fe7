"""Parts of a planning run: regions of its network that several workers plan at once."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from sites.models.planrun import PlanRun
from sites.models.spans import one_of


class PartState(models.TextChoices):
    """Where a part stands."""

    WAITING = "waiting", "Waiting"
    PLANNING = "planning", "Planning"
    DONE = "done", "Planned"


_PLANNING = Q(state=PartState.PLANNING)
_DONE = Q(state=PartState.DONE)


class RunPart(models.Model):
    """Region ``number`` of what an attempt of a run plans; the smaller ``place``, the sooner.

    Leases, attempts and ``lost`` are as a run has them. ``network`` and ``plan`` are compressed
    files; both go when the run ends. ``seconds`` or ``effort`` is the part's share of the budget.
    """

    run = models.ForeignKey(PlanRun, models.CASCADE, related_name="parts")
    run_attempt = models.PositiveSmallIntegerField()
    number = models.PositiveSmallIntegerField()
    place = models.PositiveSmallIntegerField()
    seconds = models.FloatField(null=True, blank=True)
    effort = models.PositiveIntegerField(null=True, blank=True)
    network = models.BinaryField()
    plan = models.BinaryField(null=True, blank=True)

    state = models.CharField(max_length=16, choices=PartState, default=PartState.WAITING)
    attempt = models.PositiveSmallIntegerField(default=0)
    lost = models.PositiveSmallIntegerField(default=0)
    worker = models.CharField(max_length=64, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    stage = models.CharField(max_length=24, blank=True)
    objective = models.FloatField(null=True, blank=True)
    bound = models.FloatField(null=True, blank=True)
    gap = models.FloatField(null=True, blank=True)
    booked = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["run", "run_attempt", "place"]
        constraints = [
            models.UniqueConstraint(fields=["run", "run_attempt", "number"], name="run_part_once"),
            one_of("state", PartState, "run_part_state_known"),
            models.CheckConstraint(
                condition=~_PLANNING & Q(lease_until__isnull=True)
                | _PLANNING & Q(attempt__gte=1, lease_until__isnull=False),
                name="run_part_lease_while_planning",
            ),
            models.CheckConstraint(
                condition=_DONE & Q(plan__isnull=False) | ~_DONE & Q(plan__isnull=True),
                name="run_part_done_has_a_plan",
            ),
        ]

    def __str__(self) -> str:
        return f"Part {self.number} of run {self.run_id}"
