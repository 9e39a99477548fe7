"""Not before a day: a person whose hands are not ready comes again when they may be."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from sites.access import require_here
from sites.clock import MINUTES_A_DAY, date_words
from sites.errors import BadValue, StepRefused
from sites.models import ACTIVE, Appointment, Request, RequestTime, User
from sites.services.appointments import take_step
from sites.services.write import written
from sites.step import Step

OPEN_DAYS = 366
"""How long somebody can come from then on, where the request never expires; ours."""


@written
def request_not_before(
    *,
    request: Request,
    day: date,
    today: date,
    by: User | None,
    at: datetime | None = None,
) -> Appointment | None:
    """Let a request be booked from ``day`` on only, and give back an earlier appointment.

    The times in which the person can come lose what lies before that day; where nothing is left,
    or any time would have done, all days from then on do. Returns the appointment that was
    cancelled, if there was one before that day. The reason is not kept: it would be a statement
    about a person's health.

    Raises BadValue (a day that has passed, or after the request expires), StepRefused (the person
    is at the site already, or this is not for this role), ChangedMeanwhile, NotHere or Busy.
    """
    require_here(by, request)
    if day <= today:
        raise BadValue(date_words(day), "is not a day to come", "give a later day")
    if request.expires and day > request.expires:
        raise BadValue(
            date_words(day),
            f"is after the request expires, on {date_words(request.expires)}",
            "ask the programme whether it extends the request, and give a day before",
        )
    given_back = _give_back(request, day, by, at)
    kept = _later(list(request.times.all()), day)
    if not kept:
        last = request.expires or day + timedelta(days=OPEN_DAYS)
        kept = [(day, 0, ((last - day).days + 1) * MINUTES_A_DAY)]
    request.times.all().delete()
    RequestTime.objects.bulk_create(
        RequestTime(request=request, day=each, minute=minute, minutes=minutes)
        for each, minute, minutes in kept
    )
    return given_back


def _give_back(
    request: Request, day: date, by: User | None, at: datetime | None
) -> Appointment | None:
    """Cancel the appointment, if it is before that day."""
    one = Appointment.objects.filter(request=request, step__in=ACTIVE).first()
    if one is None or (one.day >= day and one.step == Step.BOOKED):
        return None
    if one.step == Step.UNDERWAY:
        raise StepRefused(request.reference, "has its session under way", "end the session first")
    require_here(by, one)
    return take_step(one, "cancel", by=by, at=at, why=f"to come from {date_words(day)} on")


def _later(times: list[RequestTime], day: date) -> list[tuple[date, int, int]]:
    """What of these times lies on or after a day."""
    found = []
    for row in times:
        before = (day - row.day).days * MINUTES_A_DAY
        if before <= row.minute:
            found.append((row.day, row.minute, row.minutes))
        elif row.minute + row.minutes > before:
            found.append((day, 0, row.minute + row.minutes - before))
    # Two that were cut to begin together are one: the longer.
    longest: dict[tuple[date, int], int] = {}
    for each, minute, minutes in found:
        longest[each, minute] = max(minutes, longest.get((each, minute), 0))
    return [(each, minute, minutes) for (each, minute), minutes in sorted(longest.items())]
