"""Taking a free time: looked at once more, then booked or moved; the database has the last word."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime
from typing import TypedDict

from django.core.exceptions import PermissionDenied

from planner.gateway.offers.answer import Time
from planner.gateway.offers.ask import ask
from planner.gateway.offers.narrow import Narrow
from sites.access import may
from sites.clock import date_words, minute_words
from sites.errors import BadValue, ChangedMeanwhile, SlotTaken
from sites.models import ACTIVE, Appointment, Request, Site, Station, Step, Technician, User
from sites.services.appointments import appointment_book, appointment_move

ENOUGH = 1000
"""More than a site's day has told times: the wanted one is among them if it is free."""


@dataclass(frozen=True, slots=True)
class Wish:
    """A time as it was offered: what the person would be told, and where."""

    site: str
    day: date
    told: int

    def __str__(self) -> str:
        return f"{date_words(self.day)} at {minute_words(self.told)}"


class Place(TypedDict):
    """What a booking says of where and when."""

    station: Station
    technician: Technician
    day: date
    minute: int
    minutes: int
    told_minute: int
    p_wait: float


def place_of(time: Time) -> Place:
    """A free time as the record's services take it."""
    return Place(
        station=Station.objects.select_related("site").get(code=time.station),
        technician=Technician.objects.get(code=time.technician),
        day=time.day,
        minute=time.minute,
        minutes=time.minutes,
        told_minute=time.told,
        p_wait=1 - time.kept,
    )


def wish(key: str) -> Wish:
    """Read a time's key. Raises BadValue for anything that no page has sent."""
    site, _, rest = key.partition("|")
    day, _, told = rest.partition("|")
    if not (site and told.isascii() and told.isdigit() and len(told) <= 4):
        raise BadValue(key or "no time", "is not a time of this list", "choose one of the list")
    try:
        return Wish(site, date.fromisoformat(day), int(told))
    except ValueError:
        raise BadValue(key, "names no day", "choose a time of the list") from None


def active_of(request: Request) -> Appointment | None:
    """The appointment of a request that is not over."""
    rows = Appointment.objects.filter(request=request, step__in=ACTIVE)
    return rows.select_related("station__site", "technician", "request__terms").first()


def seen_of(appointment: Appointment | None) -> str:
    """What a form carries to say which state of the request its person saw."""
    return "none" if appointment is None else f"{appointment.pk}.{appointment.version}"


def ensure_here(user: User, present: Appointment | None) -> None:
    """Raise PermissionDenied where an appointment is at a site that is not somebody's."""
    site = None if present is None else present.station.site
    if not may(user, "bookings.change", site):
        raise PermissionDenied(
            f"The appointment is at {site}, and changing it is for somebody who covers it."
        )


def take(
    request: Request,
    wanted: Wish,
    *,
    by: User | None,
    now: datetime,
    sites: Collection[Site],
    seen: str,
    why: str = "",
) -> tuple[Appointment, str]:
    """Book a request at a time, or move its appointment there; with what was done.

    That is ``booked``, ``moved``, or ``stands`` where it has that very time already: a form sent
    twice does nothing the second time. The station and the technician are chosen anew: of those who
    are free at what the person is told, the pair that the offers desk puts first.

    Raises
    ------
    SlotTaken
        Where nothing is free then any more, or somebody took it while it was written.
    ChangedMeanwhile
        Where the request's appointment is not what the caller saw.
    RecordError
        Whatever `appointment_book` and `appointment_move` raise.

    """
    now_at = active_of(request)
    if now_at is not None and stands(now_at, wanted):
        return now_at, "stands"
    if seen_of(now_at) != seen:
        raise ChangedMeanwhile(
            request.reference, "was booked, moved or cancelled meanwhile", "look at it again"
        )
    place = place_of(still_free(request, wanted, now=now, sites=sites))
    if now_at is None:
        return appointment_book(request=request, by=by, why=why, **place), "booked"
    moved = appointment_move(appointment=now_at, by=by, why=why or "asked for", **place)
    return moved, "moved"


def stands(one: Appointment, wanted: Wish) -> bool:
    """Whether an appointment is at that very time and place already."""
    there = (one.station.site.code, one.day, one.told_minute)
    return one.step == Step.BOOKED and there == (wanted.site, wanted.day, wanted.told)


def still_free(request: Request, wanted: Wish, *, now: datetime, sites: Collection[Site]) -> Time:
    """The time as it is free now. Raises SlotTaken."""
    narrow = Narrow(first=wanted.day, last=wanted.day, site=wanted.site)
    answer = ask(request, now=now, sites=sites, narrow=narrow, top=ENOUGH)
    for time in answer.times:
        if (time.day, time.told) == (wanted.day, wanted.told):
            return time
    raise SlotTaken(str(wanted), "is not free any more", "choose another time")
