"""Planning runs: what was asked, where each stands, who works on it, and what came of it."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from sites.models.spans import one_of


class RunState(models.TextChoices):
    """Where a run stands. Only a person takes it from ready to kept."""

    WAITING = "waiting", "Waiting"
    PLANNING = "planning", "Planning"
    READY = "ready", "Ready for review"
    STOPPED = "stopped", "Stopped without a plan"
    FAILED = "failed", "Failed"
    KEPT = "kept", "Kept"
    PUT_ASIDE = "put_aside", "Put aside"


OPEN_RUNS = (RunState.WAITING, RunState.PLANNING)
_OPEN = Q(state__in=OPEN_RUNS)
_PLANNING = Q(state=RunState.PLANNING)
_KEPT = Q(state=RunState.KEPT)


class PlanRun(models.Model):
    """One run over days ``first_day`` … ``first_day + days - 1``.

    Asked for: ``sites`` (none named: all), ``requests`` (references; None: all that need a
    session), ``seconds`` or ``effort`` (neither: the planner's default), ``seed``, ``by``.

    Under way: ``attempt`` counts the workers that took it, and every write of a worker names the
    attempt it belongs to, so that one who was given up can write no more. ``lease_until`` is when
    it is given up unless it is heard from; ``lost`` counts how often that happened. ``objective``,
    ``bound``, ``gap`` and ``booked`` are those of the best plan so far. ``error`` is a text that
    everybody may read. Leases go by the clock of the database.

    Kept: ``outcome`` says what was written and what was not. Digests are SHA-256 of the files.
    """

    created_at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    first_day = models.DateField()
    days = models.PositiveSmallIntegerField()
    sites = models.ManyToManyField("record.Site", blank=True, related_name="+")
    requests = models.JSONField(null=True, blank=True)
    seconds = models.FloatField(null=True, blank=True)
    effort = models.PositiveIntegerField(null=True, blank=True)
    seed = models.PositiveIntegerField(default=0)

    state = models.CharField(max_length=16, choices=RunState, default=RunState.WAITING)
    sent_at = models.DateTimeField(null=True, blank=True, help_text="Last handed to the queue")
    attempt = models.PositiveSmallIntegerField(default=0)
    lost = models.PositiveSmallIntegerField(default=0)
    worker = models.CharField(max_length=64, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    heard_at = models.DateTimeField(null=True, blank=True)
    cancel_asked_at = models.DateTimeField(null=True, blank=True)
    cancel_asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    stage = models.CharField(max_length=24, blank=True)
    objective = models.FloatField(null=True, blank=True)
    bound = models.FloatField(null=True, blank=True)
    gap = models.FloatField(null=True, blank=True)
    booked = models.PositiveIntegerField(default=0)
    unbooked = models.PositiveIntegerField(default=0)
    started_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    error = models.CharField(max_length=500, blank=True)
    note = models.CharField(max_length=500, blank=True)

    network_digest = models.CharField(max_length=64, blank=True)
    plan_digest = models.CharField(max_length=64, blank=True)
    kept_at = models.DateTimeField(null=True, blank=True)
    kept_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    outcome = models.JSONField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at"]
        indexes = [
            models.Index(fields=["state"], condition=_OPEN, name="plan_run_open"),
        ]
        constraints = [
            one_of("state", RunState, "plan_run_state_known"),
            models.CheckConstraint(condition=Q(days__gte=1), name="plan_run_has_days"),
            models.CheckConstraint(
                condition=Q(seconds__isnull=True, effort__isnull=True)
                | Q(seconds__gt=0, seconds__isnull=False, effort__isnull=True)
                | Q(effort__gte=1, effort__isnull=False, seconds__isnull=True),
                name="plan_run_one_budget",
            ),
            models.CheckConstraint(
                condition=~_PLANNING & Q(lease_until__isnull=True)
                | _PLANNING
                & Q(attempt__gte=1, lease_until__isnull=False, started_at__isnull=False),
                name="plan_run_lease_while_planning",
            ),
            models.CheckConstraint(
                condition=_OPEN & Q(ended_at__isnull=True) | ~_OPEN & Q(ended_at__isnull=False),
                name="plan_run_ended_or_open",
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True)
                | Q(state=RunState.STOPPED, started_at__isnull=True)
                | Q(started_at__isnull=False, ended_at__gte=F("started_at")),
                name="plan_run_ends_after_it_starts",
            ),
            models.CheckConstraint(
                condition=~Q(state=RunState.FAILED) | ~Q(error=""), name="plan_run_failed_says_why"
            ),
            models.CheckConstraint(
                condition=_KEPT & Q(kept_at__isnull=False) | ~_KEPT & Q(kept_at__isnull=True),
                name="plan_run_kept_says_when",
            ),
        ]

    def __str__(self) -> str:
        return f"Run {self.pk} from {self.first_day}"


class PlanResult(models.Model):
    """The best plan of a run so far, with the network it is for: both files, compressed (zlib).

    The files hold references of requests and no names. A later attempt replaces the pair whole.
    """

    run = models.OneToOneField(PlanRun, models.CASCADE, primary_key=True, related_name="result")
    attempt = models.PositiveSmallIntegerField()
    saved_at = models.DateTimeField()
    network = models.BinaryField()
    plan = models.BinaryField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(attempt__gte=1), name="plan_result_of_an_attempt"),
        ]

    def __str__(self) -> str:
        return f"Plan of run {self.run_id}"
