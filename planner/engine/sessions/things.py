"""What happens on a day, in the order in which it happens: the things of rule 9."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from planner.engine.network import Network, Request, Site, Station
    from planner.engine.plan import Booking, Break, CarePlaced


@dataclass(frozen=True, slots=True)
class Thing:
    """A booking, a care, a break or a closed time; times in minutes since ``first_day``.

    Parameters
    ----------
    order
        Planned start (the clipped ``from`` of a closed time): things happen in this order.
    own
        Its own time, before which it does not begin: told for a booking, else ``order``.
    station, technician
        Indices into the network's, -1 where none takes part.
    minutes
        Its own minutes; ignored for a booking, whose length is drawn.
    key
        The request of a booking, else empty.
    profile
        The profile of a booking at its site, else empty.

    """

    order: int
    own: int
    station: int
    technician: int
    minutes: int
    key: str
    profile: str


def sort_key(thing: Thing) -> tuple[int, int, int, str, int]:
    """The order of the day; ties by station, technician, request and minutes."""
    return (thing.order, thing.station, thing.technician, thing.key, thing.minutes)


def closed_things(site: Site, station: Station, station_index: int) -> list[Thing]:
    """The closed times of a station inside opening hours, one thing for each and each opening time.

    Closed times that overlap are not merged: rule 9 has every one of them happen.
    """
    return [
        Thing(start, start, station_index, -1, end - start, "", "")
        for closed in station.closed
        for window in site.open
        if (start := max(closed.start, window.start)) < (end := min(closed.end, window.end))
    ]


def profile_at(request: Request, site: str) -> str:
    """The profile of ``request`` at ``site``: the rates learnt there, where there are such."""
    for choice in request.sites:
        if choice.site == site:
            return choice.profile or request.profile
    return request.profile


def plan_things(
    network: Network,
    bookings: Iterable[Booking],
    care: Iterable[CarePlaced],
    breaks: Iterable[Break],
) -> list[Thing]:
    """Everything that happens under a plan, closed times included, sorted by `sort_key`.

    A booking, care or break that names a request, station, technician or care that does not exist
    is left out: that is another rule's fault, and the rest of the day can still be judged.
    """
    sites = {site.id: site for site in network.sites}
    stations = {station.id: index for index, station in enumerate(network.stations)}
    technicians = {person.id: index for index, person in enumerate(network.technicians)}
    requests = {request.id: request for request in network.requests}
    cares = {item.id: item for item in network.care}
    profiles = {profile.id for profile in network.profiles}
    things: list[Thing] = []
    for index, station in enumerate(network.stations):
        if station.site in sites:
            things += closed_things(sites[station.site], station, index)
    for booking in bookings:
        request = requests.get(booking.request)
        station_at = stations.get(booking.station)
        person = technicians.get(booking.technician)
        if request is None or station_at is None or person is None:
            continue
        profile = profile_at(request, booking.site)
        if profile in profiles:
            start, told = booking.start, booking.told
            things.append(Thing(start, told, station_at, person, 0, booking.request, profile))
    for placed in care:
        item = cares.get(placed.care)
        person = -1 if placed.technician is None else technicians.get(placed.technician)
        if item is not None and item.station in stations and person is not None:
            station_at = stations[item.station]
            things.append(
                Thing(placed.start, placed.start, station_at, person, item.minutes, "", "")
            )
    for rest in breaks:
        person = technicians.get(rest.technician)
        if person is not None:
            things.append(Thing(rest.start, rest.start, -1, person, rest.minutes, "", ""))
    return sorted(things, key=sort_key)
