"""What is sent on, and what comes back."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from sites.models.request import Request
from sites.models.session import Session
from sites.models.spans import one_of


class Submission(models.Model):
    """A set sent on. ``returned_control_number`` is the returned set's, carried once."""

    request = models.ForeignKey(Request, models.PROTECT, related_name="submissions")
    session = models.ForeignKey(Session, models.PROTECT, related_name="submissions")
    control_number = models.CharField(max_length=64, unique=True)
    returned_control_number = models.CharField(max_length=64, blank=True)
    sent_at = models.DateTimeField()

    class Meta:
        ordering = ["sent_at"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(control_number=""), name="submission_has_a_control_number"
            ),
            models.UniqueConstraint(
                fields=["returned_control_number"],
                condition=~Q(returned_control_number=""),
                name="returned_number_carried_once",
            ),
            models.CheckConstraint(
                condition=~Q(returned_control_number=F("control_number")),
                name="submission_carries_another_number",
            ),
        ]

    def __str__(self) -> str:
        return self.control_number


class ResponseKind(models.TextChoices):
    """What came back. Only an image return asks the subject to come again."""

    ACCEPTED = "accepted", "Accepted"
    IMAGE = "image", "Returned: image"
    DATA = "data", "Returned: data"
    TRANSMISSION = "transmission", "Returned: transmission"


class Response(models.Model):
    """What came back for a submission; returns are read every working day, the subject told."""

    submission = models.OneToOneField(Submission, models.PROTECT, related_name="response")
    kind = models.CharField(max_length=12, choices=ResponseKind)
    code = models.CharField(max_length=32, blank=True, help_text="The programme's code for it")
    detail = models.CharField(max_length=500, blank=True)
    received_at = models.DateTimeField()
    read_at = models.DateTimeField(null=True, blank=True)
    read_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    contacted_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["received_at"]
        constraints = [
            one_of("kind", ResponseKind, "response_kind_known"),
            models.CheckConstraint(
                condition=Q(read_at__isnull=True) | Q(read_at__gte=F("received_at")),
                name="response_read_after_received",
            ),
            models.CheckConstraint(
                condition=Q(contacted_at__isnull=True)
                | Q(read_at__isnull=False, contacted_at__gte=F("read_at")),
                name="response_contacted_after_read",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.submission}: {self.kind}"


class ExceptionRoute(models.Model):
    """What a second image return opens: a check by name may be asked for, with both numbers.

    ``closes_on`` is the last day on which it can be asked for. A plan, not a decision about a
    person: people decide under the programme's policy whether it is asked for.
    """

    request = models.OneToOneField(Request, models.PROTECT, related_name="exception_route")
    first_number = models.CharField(max_length=64)
    second_number = models.CharField(max_length=64)
    opened_at = models.DateTimeField()
    closes_on = models.DateField()
    asked_at = models.DateTimeField(null=True, blank=True)
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["closes_on", "id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(first_number="")
                & ~Q(second_number="")
                & ~Q(first_number=F("second_number")),
                name="exception_route_has_both_numbers",
            ),
            models.CheckConstraint(
                condition=Q(asked_at__isnull=True, asked_by__isnull=True)
                | Q(asked_at__isnull=False, asked_by__isnull=False, asked_at__gte=F("opened_at")),
                name="exception_route_asked_by_whom",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.request}: {self.first_number}, {self.second_number}"
