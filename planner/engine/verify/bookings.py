"""Rules 1 and 2: who is booked, where and when, and whether station and technician suit them."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from planner.engine.units import DAY, told
from planner.engine.verify.breach import Breach

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.engine.network import Request
    from planner.engine.plan import Booking
    from planner.engine.verify.facts import Facts


def each_request_once(facts: Facts) -> Iterator[Breach]:
    """Rule 1: booked at most once, and either booked or unbooked with a reason."""
    booked = Counter(booking.request for booking in facts.plan.bookings)
    unbooked = Counter(left.request for left in facts.plan.unbooked)
    for request in facts.requests:
        times, left = booked[request], unbooked[request]
        if times > 1:
            yield Breach(1, (request,), f"{request} is booked {times} times")
        if left > 1:
            yield Breach(1, (request,), f"{request} is listed {left} times as unbooked")
        if times and left:
            yield Breach(1, (request,), f"{request} is both booked and listed as unbooked")
        if not times and not left:
            yield Breach(1, (request,), f"{request} is neither booked nor listed as unbooked")
    for request in booked:
        if request not in facts.requests:
            yield Breach(1, (request,), f"{request} is booked, but the network has no such request")
    for request in unbooked:
        if request not in facts.requests:
            yield Breach(1, (request,), f"{request} is unbooked, but no request of the network")
    for entry in facts.plan.unbooked:
        if not any(reason.code for reason in entry.reasons):
            yield Breach(1, (entry.request,), f"{entry.request} is unbooked without a reason")


def place_and_time(facts: Facts) -> Iterator[Breach]:
    """Rule 1: every booking at one of its sites, in the horizon, when its subject can come."""
    for booking in facts.plan.bookings:
        request = facts.requests.get(booking.request)
        yield from _site(facts, booking, request)
        yield from _time(facts, booking)
        if request is not None:
            yield from _subject_can_come(facts, booking, request)


def _site(facts: Facts, booking: Booking, request: Request | None) -> Iterator[Breach]:
    things = (booking.request, booking.site)
    if booking.site not in facts.sites:
        yield Breach(1, things, f"{booking.request} is booked at {booking.site}, no known site")
    elif request is not None and all(choice.site != booking.site for choice in request.sites):
        detail = f"{booking.request} is booked at {booking.site}, which is none of its sites"
        yield Breach(1, things, detail)
    station = facts.stations.get(booking.station)
    if station is None:
        detail = f"{booking.request} is booked at {booking.station}, no known station"
        yield Breach(1, (booking.request, booking.station), detail)
    elif station.site != booking.site:
        detail = (
            f"{booking.request} is booked at site {booking.site}, "
            f"but its station {station.id} is at {station.site}"
        )
        yield Breach(1, (booking.request, station.id, booking.site), detail)


def _time(facts: Facts, booking: Booking) -> Iterator[Breach]:
    network = facts.network
    if booking.start < 0 or booking.start + booking.minutes > network.days * DAY:
        detail = (
            f"{booking.request} is booked {facts.span(booking.start, booking.minutes)}, outside "
            f"the horizon of {network.days} days from {facts.date(0)}"
        )
        yield Breach(1, (booking.request,), detail)
    heard = told(booking.start, network.grain)
    if booking.told != heard:
        detail = (
            f"{booking.request} starts at {facts.at(booking.start)} and is told "
            f"{facts.at(booking.told)}, not {facts.at(heard)}"
        )
        yield Breach(1, (booking.request,), detail)


def _subject_can_come(facts: Facts, booking: Booking, request: Request) -> Iterator[Breach]:
    start, end = booking.start, booking.start + booking.minutes
    if start < request.release * DAY:
        detail = (
            f"{request.id} is booked at {facts.at(start)}, "
            f"before its release on {facts.date(request.release)}"
        )
        yield Breach(1, (request.id,), detail)
    windows = request.available
    if windows and not any(window.start <= start and end <= window.end for window in windows):
        detail = (
            f"{request.id} is booked {facts.span(start, booking.minutes)}, "
            f"which lies in none of its {len(windows)} available times"
        )
        yield Breach(1, (request.id,), detail)


def features_and_skills(facts: Facts) -> Iterator[Breach]:
    """Rule 2: all features at the station, all skills (request's and profile's) in the technician.

    Stations and technicians that do not exist are judged by rules 1 and 3.
    """
    for booking in facts.plan.bookings:
        request = facts.requests.get(booking.request)
        if request is None:
            continue
        station = facts.stations.get(booking.station)
        if station is not None:
            for feature in sorted(set(request.features) - set(station.features)):
                detail = f"{request.id} asks for the feature {feature}, which {station.id} lacks"
                yield Breach(2, (request.id, station.id), detail)
        technician = facts.technicians.get(booking.technician)
        if technician is not None:
            profile = facts.profiles[facts.profile_at(request, facts.site_of(booking))]
            for skill in sorted({*request.skills, *profile.skills} - set(technician.skills)):
                detail = f"{request.id} asks for the skill {skill}, which {technician.id} lacks"
                yield Breach(2, (request.id, technician.id), detail)
