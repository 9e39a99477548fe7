"""Sessions: one visit, its attempts, its missing fingers, its overrides."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from sites.models.appointment import Appointment
from sites.models.codes import Algorithm, Cause, FingerPosition, ImpressionType, MissingCode
from sites.models.spans import one_of
from sites.models.station import Scanner


class SessionEnd(models.TextChoices):
    """How a session ended; open while blank."""

    COMPLETE = "complete", "Complete set"
    OVERRIDE = "override", "Complete set with an override"
    BROKEN_OFF = "broken_off", "Broken off"
    REFUSED = "refused", "Identity check not passed"


class Session(models.Model):
    """One visit. That the identity check was done, by whom and when; never what it showed."""

    appointment = models.OneToOneField(Appointment, models.PROTECT, related_name="session")
    scanner = models.ForeignKey(
        Scanner, models.PROTECT, null=True, blank=True, related_name="sessions"
    )
    identity_checked_at = models.DateTimeField(null=True, blank=True)
    identity_checked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_how = models.CharField(max_length=12, choices=SessionEnd, blank=True)
    note = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["started_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(ended_how__in=["", *SessionEnd.values]), name="session_end_known"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_how="")
                | (Q(ended_at__isnull=False, ended_at__gte=F("started_at")) & ~Q(ended_how="")),
                name="session_ends_after_it_starts",
            ),
            models.CheckConstraint(
                condition=Q(identity_checked_at__isnull=True, identity_checked_by__isnull=True)
                | Q(identity_checked_at__isnull=False, identity_checked_by__isnull=False),
                name="session_identity_by_whom_and_when",
            ),
            models.CheckConstraint(
                condition=~Q(ended_how__in=[SessionEnd.COMPLETE, SessionEnd.OVERRIDE])
                | Q(identity_checked_at__isnull=False),
                name="session_complete_needs_identity",
            ),
        ]

    def __str__(self) -> str:
        return f"Session of {self.appointment}"


class Attempt(models.Model):
    """One try at one impression. ``seconds`` it took; ``kept`` is the one that is sent on."""

    session = models.ForeignKey(Session, models.PROTECT, related_name="attempts")
    position = models.PositiveSmallIntegerField(choices=FingerPosition)
    impression = models.PositiveSmallIntegerField(choices=ImpressionType)
    edition = models.CharField(max_length=32, default="ANSI/NIST-ITL 1-2011")
    number = models.PositiveSmallIntegerField()
    algorithm = models.CharField(max_length=8, choices=Algorithm, blank=True)
    algorithm_version = models.CharField(max_length=32, blank=True)
    score = models.PositiveSmallIntegerField(null=True, blank=True)
    cause = models.CharField(max_length=12, choices=Cause, blank=True)
    seconds = models.FloatField(null=True, blank=True)
    kept = models.BooleanField(default=False)

    class Meta:
        ordering = ["session", "position", "impression", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["session", "position", "impression", "number"], name="attempt_once"
            ),
            models.UniqueConstraint(
                fields=["session", "position", "impression"],
                condition=Q(kept=True),
                name="attempt_one_kept",
            ),
            one_of("position", FingerPosition, "attempt_position_known"),
            one_of("impression", ImpressionType, "attempt_impression_known"),
            models.CheckConstraint(condition=Q(number__gte=1), name="attempt_number_positive"),
            models.CheckConstraint(
                condition=Q(cause__in=["", *Cause.values]), name="attempt_cause_known"
            ),
            models.CheckConstraint(
                condition=Q(seconds__isnull=True) | Q(seconds__gte=0), name="attempt_takes_time"
            ),
            models.CheckConstraint(
                condition=Q(score__isnull=True, algorithm="")
                | (
                    Q(score__isnull=False, algorithm=Algorithm.NFIQ1, score__range=(1, 5))
                    & ~Q(algorithm_version="")
                )
                | (
                    Q(score__isnull=False, algorithm=Algorithm.NFIQ2)
                    & (Q(score__range=(0, 100)) | Q(score__in=[254, 255]))
                    & ~Q(algorithm_version="")
                ),
                name="attempt_score_of_its_algorithm",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_position_display()} {self.number}"


class MissingFinger(models.Model):
    """A finger that was not printed; for now (UP) has a day to look again, for good (XX) none."""

    session = models.ForeignKey(Session, models.PROTECT, related_name="missing")
    position = models.PositiveSmallIntegerField(choices=FingerPosition)
    code = models.CharField(max_length=2, choices=MissingCode)
    review_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["session", "position"]
        constraints = [
            models.UniqueConstraint(fields=["session", "position"], name="missing_once"),
            models.CheckConstraint(
                condition=Q(position__range=(1, 10)), name="missing_is_a_single_finger"
            ),
            models.CheckConstraint(
                condition=Q(code=MissingCode.AMPUTATED, review_on__isnull=True)
                | Q(code=MissingCode.UNPRINTABLE, review_on__isnull=False),
                name="missing_review_only_for_now",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_position_display()} {self.code}"


class OverrideKind(models.TextChoices):
    """What a capture was sent on in spite of."""

    QUALITY = "quality", "Score under the threshold"
    SEQUENCE = "sequence", "Sequence check not passed"


class Override(models.Model):
    """A capture sent on although it fell short; with a reason, and by policy a second person."""

    session = models.ForeignKey(Session, models.PROTECT, related_name="overrides")
    position = models.PositiveSmallIntegerField(choices=FingerPosition)
    kind = models.CharField(max_length=12, choices=OverrideKind)
    reason = models.CharField(max_length=500)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    second = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["session", "at"]
        constraints = [
            models.UniqueConstraint(fields=["session", "position", "kind"], name="override_once"),
            one_of("position", FingerPosition, "override_position_known"),
            one_of("kind", OverrideKind, "override_kind_known"),
            models.CheckConstraint(condition=~Q(reason=""), name="override_says_why"),
            models.CheckConstraint(
                condition=Q(second__isnull=True) | ~Q(second=F("by")),
                name="override_second_is_another",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} override"
