"""Notices to subjects and their texts, and the supplies of a site."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from sites.models.appointment import Appointment
from sites.models.programme import Programme
from sites.models.request import Request
from sites.models.site import Site
from sites.models.spans import one_of


class NoticeKind(models.TextChoices):
    """What a notice says."""

    BOOKED = "booked", "Booked"
    MOVED = "moved", "Moved"
    REMINDER = "reminder", "Reminder"
    CANCELLED = "cancelled", "Cancelled"
    RETURNED = "returned", "Returned: come again"


class NoticeState(models.TextChoices):
    """How far a notice is. ``UNSURE``: a sender died while it was handing the message over."""

    WAITING = "waiting", "Waiting to be sent"
    SENDING = "sending", "Being sent"
    SENT = "sent", "Handed to the mail server"
    TOLD = "told", "Told by a person"
    PHONE = "phone", "To be phoned"
    FAILED = "failed", "Not sent"
    UNSURE = "unsure", "Sent or not: not known"
    OVERTAKEN = "overtaken", "Overtaken by what happened since"


REACHED = (NoticeState.SENT, NoticeState.TOLD)
TO_DO = (NoticeState.PHONE, NoticeState.FAILED, NoticeState.UNSURE)
"""What a person has to see to."""


class Notice(models.Model):
    """Something that a subject has to be told; ``told_at`` once they were.

    The sender takes a notice for a time (``lease_until``) under a number (``attempt``) that every
    later write of it must name; ``handing_at`` is written before the message leaves, so that after
    a crash it is known which messages cannot have left. ``fault`` names no person and no address.
    """

    request = models.ForeignKey(Request, models.PROTECT, related_name="notices")
    appointment = models.ForeignKey(
        Appointment, models.PROTECT, null=True, blank=True, related_name="notices"
    )
    kind = models.CharField(max_length=12, choices=NoticeKind)
    for_day = models.DateField(
        null=True, blank=True, help_text="The day that a reminder reminds of"
    )
    raised_at = models.DateTimeField()
    told_at = models.DateTimeField(null=True, blank=True)
    told_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    detail = models.CharField(max_length=500, blank=True)
    state = models.CharField(
        max_length=10, choices=NoticeState, default=NoticeState.WAITING, db_index=True
    )
    attempt = models.PositiveSmallIntegerField(default=0)
    tries = models.PositiveSmallIntegerField(default=0)
    not_before = models.DateTimeField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    handing_at = models.DateTimeField(null=True, blank=True)
    fault = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["raised_at"]
        constraints = [
            one_of("kind", NoticeKind, "notice_kind_known"),
            one_of("state", NoticeState, "notice_state_known"),
            models.CheckConstraint(
                condition=Q(told_at__isnull=True) | Q(told_at__gte=F("raised_at")),
                name="notice_told_after_raised",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=REACHED) | Q(told_at__isnull=False),
                name="notice_reached_says_when",
            ),
            models.CheckConstraint(
                condition=~Q(state=NoticeState.SENDING)
                | Q(lease_until__isnull=False, attempt__gte=1),
                name="notice_being_sent_has_a_lease",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=[NoticeState.FAILED, NoticeState.UNSURE]) | ~Q(fault=""),
                name="notice_not_sent_says_why",
            ),
            models.CheckConstraint(
                condition=~Q(kind=NoticeKind.REMINDER)
                | Q(appointment__isnull=False, for_day__isnull=False),
                name="notice_reminder_of_a_day",
            ),
            models.UniqueConstraint(
                fields=["appointment", "for_day"],
                condition=Q(kind=NoticeKind.REMINDER),
                name="notice_one_reminder_a_day",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.request}: {self.kind}"


class NoticeText(models.Model):
    """A programme's own text for a kind of notice; ``language`` empty: for every language.

    ``heading`` is the message's subject line: it takes no variable that speaks of a person.
    """

    programme = models.ForeignKey(Programme, models.CASCADE, related_name="texts")
    kind = models.CharField(max_length=12, choices=NoticeKind)
    language = models.CharField(max_length=16, blank=True, help_text="BCP 47 tag")
    heading = models.CharField(max_length=120)
    body = models.TextField()

    class Meta:
        ordering = ["programme", "kind", "language"]
        constraints = [
            one_of("kind", NoticeKind, "notice_text_kind_known"),
            models.UniqueConstraint(
                fields=["programme", "kind", "language"], name="notice_text_once"
            ),
            models.CheckConstraint(
                condition=~Q(heading="") & ~Q(body=""), name="notice_text_says_something"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.programme}: {self.kind} {self.language}".strip()


class Supply(models.Model):
    """What a site has in stock of one supply, and the count under which more is ordered."""

    site = models.ForeignKey(Site, models.CASCADE, related_name="supplies")
    kind = models.SlugField(max_length=64)
    count = models.PositiveIntegerField(default=0)
    low = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["site", "kind"]
        verbose_name_plural = "supplies"
        constraints = [models.UniqueConstraint(fields=["site", "kind"], name="supply_once")]

    def __str__(self) -> str:
        return f"{self.kind} at {self.site}"
