"""Scanner care: given a time, moved, closed."""

from __future__ import annotations

from datetime import date, datetime

from django.db.models import Q
from django.utils import timezone

from sites.access import require_here
from sites.clock import visit_span
from sites.errors import BadValue, ChangedMeanwhile
from sites.models import CareKind, CareOutcome, CareWindow, Station, Technician, User
from sites.selectors.care import scanner_placement
from sites.services.displace import Displaced, make_room
from sites.services.write import written


@written
def care_fix(
    *,
    station: Station,
    kind: CareKind,
    day: date,
    minute: int,
    minutes: int,
    code: str,
    technician: Technician | None = None,
    displace: bool = False,
    by: User | None = None,
    note: str = "",
) -> tuple[CareWindow, list[Displaced]]:
    """Set a care window at a time of a person's choice; plans leave it there.

    Bookings in its way are refused, or with ``displace`` lose their place and are returned.
    """
    require_here(by, station)
    span = visit_span(station.site.timezone, day, minute, minutes)
    moved = make_room(
        span, by=by, why="scanner care", displace=displace, station=station, technician=technician
    )
    placement = scanner_placement(station=station, day=day)
    window = CareWindow.objects.create(
        code=code,
        station=station,
        scanner=placement.scanner if placement else None,
        kind=kind,
        needs_technician=technician is not None,
        earliest=day,
        latest=day,
        fixed=True,
        technician=technician,
        note=note,
        **span,
    )
    return window, moved


@written
def care_place(
    *, window: CareWindow, day: date, minute: int, technician: Technician | None = None
) -> CareWindow:
    """Give an open care window a time inside its dates, as a plan does."""
    if not window.earliest <= day <= window.latest:
        raise BadValue(
            f"{day}",
            f"is not between {window.earliest} and {window.latest}",
            "choose a day on which the care is due",
        )
    if window.needs_technician and technician is None:
        raise BadValue(window.code, "needs a technician", "name one")
    span = visit_span(window.station.site.timezone, day, minute, window.minutes)
    seen = Q(starts_at=window.starts_at) if window.starts_at else Q(starts_at__isnull=True)
    count = CareWindow.objects.filter(seen, pk=window.pk, outcome="", fixed=False).update(
        technician=technician, **span
    )
    if count != 1:
        raise ChangedMeanwhile(window.code, "is fixed, closed or moved", "read it again")
    window.refresh_from_db()
    return window


@written
def care_close(
    *,
    window: CareWindow,
    outcome: CareOutcome,
    by: User,
    at: datetime | None = None,
    note: str = "",
) -> CareWindow:
    """Keep that care was done or missed, by whom and when; missed care takes no time any more."""
    require_here(by, window)
    count = CareWindow.objects.filter(pk=window.pk, outcome="").update(
        outcome=outcome, closed_at=at or timezone.now(), closed_by=by, note=note
    )
    if count != 1:
        raise ChangedMeanwhile(window.code, "is closed already", "read it again")
    window.refresh_from_db()
    return window
