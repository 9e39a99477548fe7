"""Reminders: raised some days before an appointment, by the site's clock, once for each day."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.db.models import Exists, F, OuterRef, Q

from sites.clock import wall
from sites.models import Appointment, Notice, NoticeKind, ProgrammeVersion, Site, Step
from sites.services.write import written

FROM_MINUTE = 8 * 60
"""Nobody is reminded before eight in the morning on the site's clock; ours."""


@written
def reminders_raise(*, at: datetime) -> int:
    """Raise the reminders that are due; returns how many. ``at`` is the present of the record.

    Whoever was told of the time within the days of a reminder is not reminded of it.
    """
    days = set(ProgrammeVersion.objects.values_list("reminder_days", flat=True)) - {0}
    made = 0
    for zone in sorted(set(Site.objects.values_list("timezone", flat=True))):
        day, minute = wall(zone, at)
        for ahead in sorted(days):
            last = day + timedelta(days=ahead - (minute < FROM_MINUTE))
            made += raise_in(zone, ahead, last, at)
    return made


def raise_in(zone: str, ahead: int, last: date, at: datetime) -> int:
    """The reminders of one zone's sites, of programmes that remind ``ahead`` days before."""
    mine = Notice.objects.filter(appointment=OuterRef("pk"))
    lately = mine.filter(
        kind__in=[NoticeKind.BOOKED, NoticeKind.MOVED],
        raised_at__gt=OuterRef("starts_at") - timedelta(days=ahead),
    )
    done = mine.filter(kind=NoticeKind.REMINDER, for_day=OuterRef("day"))
    due = Appointment.objects.filter(
        ~Exists(lately),
        ~Exists(done),
        Q(day__lte=last),
        station__site__timezone=zone,
        request__terms__reminder_days=ahead,
        step=Step.BOOKED,
        starts_at__gt=at,
    ).order_by("pk")
    rows = [
        Notice(
            request_id=request,
            appointment_id=key,
            kind=NoticeKind.REMINDER,
            for_day=day,
            raised_at=at,
        )
        for key, request, day in due.values_list("pk", F("request"), "day")
    ]
    Notice.objects.bulk_create(rows, batch_size=500, ignore_conflicts=True)
    return len(rows)
