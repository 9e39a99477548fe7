"""A network's requests and appointments as records."""

from __future__ import annotations

from django.utils import timezone

from planner.engine import network as engine
from planner.engine.network import Network
from planner.engine.units import DAY, told
from planner.gateway.record.horizon import Horizon
from planner.gateway.record.store_rows import Keys, create, link
from sites.clock import visit_span
from sites.models import (
    Appointment,
    AppointmentEvent,
    ProgrammeVersion,
    Request,
    RequestSite,
    RequestTime,
    Step,
    Subject,
)


def store_requests(network: Network, horizon: Horizon, keys: Keys, terms: ProgrammeVersion) -> None:
    """Requests, each with a subject of its own who is known by the request's id alone."""
    subjects = create(Subject, (Subject(reference=row.id) for row in network.requests))
    unbooked = network.policy.cost.unbooked
    rows = create(
        Request,
        (
            Request(
                reference=row.id,
                subject=subject,
                terms=terms,
                profile=keys.profiles[row.profile],
                received=horizon.calendar(row.release),
                release=horizon.calendar(row.release),
                due=horizon.calendar(row.due),
                priority=row.weight,
                cost_unbooked=unbooked if row.unbooked is None else row.unbooked,
                rework=row.rework,
            )
            for row, subject in zip(network.requests, subjects, strict=True)
        ),
    )
    keys.requests = {row.reference: row for row in rows}
    pairs = [(keys.requests[row.id], row) for row in network.requests]
    create(
        RequestSite,
        (
            RequestSite(
                request=request,
                site=keys.sites[choice.site],
                travel=choice.travel,
                profile=None if choice.profile is None else keys.profiles[choice.profile],
            )
            for request, row in pairs
            for choice in row.sites
        ),
    )
    create(
        RequestTime,
        (each for request, row in pairs for each in _times(request, row, horizon)),
    )
    link(Request, "features", [(request, row.features) for request, row in pairs], keys.features)
    link(Request, "skills", [(request, row.skills) for request, row in pairs], keys.skills)


def _times(request: Request, row: engine.Request, horizon: Horizon) -> list[RequestTime]:
    """Times in which the subject can come; of two that begin together, the longer holds both."""
    longest: dict[int, int] = {}
    for window in row.available:
        longest[window.start] = max(longest.get(window.start, 0), window.end - window.start)
    found = []
    for start, minutes in sorted(longest.items()):
        day, minute = horizon.reading(start)
        found.append(RequestTime(request=request, day=day, minute=minute, minutes=minutes))
    return found


def store_appointments(network: Network, horizon: Horizon, keys: Keys) -> None:
    """Appointments, each with the event that it was booked."""
    at = timezone.now()
    made = []
    order = sorted(network.appointments, key=lambda each: (each.station, each.start))
    for row in order:
        station, request = keys.stations[row.station], keys.requests[row.request]
        day, minute = horizon.reading(row.start)
        made.append(
            Appointment(
                code=row.id,
                request=request,
                subject_id=request.subject_id,
                station=station,
                technician=keys.technicians[row.technician],
                told_minute=told(row.start, network.grain) - row.start // DAY * DAY,
                fixed=row.fixed,
                **visit_span(station.site.timezone, day, minute, row.minutes),
            )
        )
    rows = create(Appointment, made)
    create(
        AppointmentEvent,
        (AppointmentEvent(appointment=row, at=at, what="book", step=Step.BOOKED) for row in rows),
    )
