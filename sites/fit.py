"""What a booking must fit besides being free: its request, its station, its technician, the hours.

The same rules as 1 to 3 of a plan, read from the record.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from sites.clock import Span, minute_words
from sites.errors import DoesNotFit
from sites.models import Request, RequestTime, Shift, Station, Technician
from sites.models.profile import CaptureKind
from sites.selectors.care import scanner_placement
from sites.selectors.holds import in_force
from sites.selectors.hours import open_windows


def require_fit(*, request: Request, station: Station, technician: Technician, span: Span) -> None:
    """Raise DoesNotFit with the first rule that the booking breaks."""
    for fault in misfits(request, station, technician, span):
        raise fault


def misfits(
    request: Request, station: Station, technician: Technician, span: Span
) -> Iterator[DoesNotFit]:
    """Every rule that the booking breaks."""
    day, start, end = span["day"], span["minute"], span["minute"] + span["minutes"]
    when = f"{day} {minute_words(start)}"
    if request.closed_at is not None:
        yield DoesNotFit(request.reference, "is closed", "book an open request")
    if day < request.release:
        yield DoesNotFit(when, f"is before the release {request.release}", "choose a later day")
    hold = request.holds.filter(in_force(day)).first()
    if hold is not None:
        yield DoesNotFit(
            request.reference,
            f"is on hold on {day} ({hold.why})",
            "release it first, or choose a day after the hold",
        )
    sites = [row.site_id for row in request.at_sites.all()]
    if sites and station.site_id not in sites:
        yield DoesNotFit(
            station.code, "is not at a site that the request accepts", "choose another site"
        )
    times = list(request.times.all())
    if times and not any(holds(time, span) for time in times):
        yield DoesNotFit(when, "is no time in which the subject can come", "choose another time")
    if not station.in_use:
        yield DoesNotFit(station.code, "is not in use", "choose another station")
    yield from lacks(request, station, technician)
    yield from not_certified(technician, day)
    placement = scanner_placement(station=station, day=day)
    rolled = request.profile.captures.filter(kind=CaptureKind.ROLLED)
    if placement and not placement.scanner.takes_rolled and rolled.exists():
        yield DoesNotFit(
            station.code,
            "has a scanner for flats only",
            "choose a station that takes rolled prints",
        )
    windows = open_windows(site=station.site, first_day=day, days=1)[day]
    if not any(opens <= start and end <= closes for opens, closes in windows):
        yield DoesNotFit(when, f"is not inside the hours of {station.site}", "choose another time")
    on_shift = Shift.objects.filter(
        technician=technician,
        site_id=station.site_id,
        starts_at__lte=span["starts_at"],
        ends_at__gte=span["ends_at"],
    )
    if not on_shift.exists():
        yield DoesNotFit(
            technician.code, f"has no shift at {station.site} over that time", "choose another"
        )


def holds(time: RequestTime, span: Span) -> bool:
    """Whether the whole booking lies inside a time in which the subject can come."""
    offset = (span["day"] - time.day) // timedelta(days=1) * 24 * 60 + span["minute"]
    return time.minute <= offset and offset + span["minutes"] <= time.minute + time.minutes


def not_certified(technician: Technician, day: date) -> Iterator[DoesNotFit]:
    """A technician whose certificates are kept has one that is valid on the day."""
    rows = technician.certifications
    if rows.exists() and not rows.filter(starts_on__lte=day, expires_on__gt=day).exists():
        yield DoesNotFit(
            technician.code, f"has no certificate valid on {day}", "choose another, or renew it"
        )


def lacks(request: Request, station: Station, technician: Technician) -> Iterator[DoesNotFit]:
    """Features that the station, and skills that the technician, is short of."""
    features = {each.code for each in request.features.all()}
    missing = features - {each.code for each in station.features.all()}
    if missing:
        yield DoesNotFit(
            station.code, f"lacks {', '.join(sorted(missing))}", "choose a station that has it"
        )
    skills = {each.code for each in request.skills.all()}
    skills |= {each.code for each in request.profile.skills.all()}
    missing = skills - {each.code for each in technician.skills.all()}
    if missing:
        yield DoesNotFit(
            technician.code, f"lacks {', '.join(sorted(missing))}", "choose one who has it"
        )
