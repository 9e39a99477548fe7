"""Rules of the appointments that are booked already."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from planner.engine.network_rules import values
from planner.engine.network_rules.found import Found, Path, shown

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from planner.engine.network import Appointment, Network, Request, Site, Station, Technician


@dataclass(frozen=True, slots=True)
class Named:
    """The records that appointments name, by id."""

    sites: Mapping[str, Site]
    stations: Mapping[str, Station]
    technicians: Mapping[str, Technician]
    requests: Mapping[str, Request]


def appointment_faults(network: Network, named: Named) -> Iterator[Found]:
    """Appointments name what exists, one for a request, at a site that all three share."""
    yield from values.own_ids("appointments", network.appointments)
    first: dict[str, int] = {}
    for i, booked in enumerate(network.appointments):
        path = ("appointments", i)
        for key in ("request", "station", "technician"):
            kind = f"{key}s"
            yield from values.known((*path, key), getattr(booked, key), kind, getattr(named, kind))
        if booked.request and (before := first.setdefault(booked.request, i)) != i:
            problem = f"{shown(booked.request)} has appointments[{before}] already"
            yield Found((*path, "request"), problem, "keep one appointment for a request")
        yield from values.above_zero((*path, "minutes"), booked.minutes)
        yield from _another_site(path, booked, named)


def _another_site(path: Path, booked: Appointment, named: Named) -> Iterator[Found]:
    """The request may be served, and the technician works, where the station stands.

    The technician of an appointment that may be moved can have lost their shift there: they are
    of another site only if that is where they work at that time.
    """
    station = named.stations.get(booked.station)
    if station is None:
        return
    here = shown(station.site)
    request = named.requests.get(booked.request)
    if request is not None and _all_elsewhere(station.site, request.sites, named.sites):
        problem = f"{shown(booked.station)} is at {here}, which is no site of the request"
        remedy = "name a station of one of the request's sites, or add the site there"
        yield Found((*path, "station"), problem, remedy)
    technician = named.technicians.get(booked.technician)
    if technician is None or not _all_elsewhere(station.site, technician.shifts, named.sites):
        return
    end = booked.start + booked.minutes
    if booked.fixed or any(s.start < end and booked.start < s.end for s in technician.shifts):
        problem = f"{shown(booked.technician)} has no shift at {here}, where the station is"
        remedy = "name a technician of that site, or add a shift there"
        yield Found((*path, "technician"), problem, remedy)


class _AtSite(Protocol):
    @property
    def site(self) -> str: ...


def _all_elsewhere(site: str, places: Sequence[_AtSite], sites: Mapping[str, Site]) -> bool:
    """Whether all of these places are of other sites; none at all is of no site, so of no other.

    A site that does not exist has its own fault, and may have been meant to be the right one.
    """
    theirs = {place.site for place in places}
    return bool(theirs) and site not in theirs and theirs <= sites.keys() and site in sites
