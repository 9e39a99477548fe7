"""Appointments of a network as bookings of a plan."""

from __future__ import annotations

from collections.abc import Mapping

from planner.engine.network import Network
from planner.engine.plan import Booking
from planner.engine.units import told


def booked_already(network: Network, chances: Mapping[str, float]) -> tuple[Booking, ...]:
    """Every appointment where it stands.

    ``chances`` gives the chance of a long wait by the appointment's id; 0 where it has none.
    """
    sites = {item.id: item.site for item in network.stations}
    return tuple(
        Booking(
            request=item.request,
            site=sites[item.station],
            station=item.station,
            technician=item.technician,
            start=item.start,
            told=told(item.start, network.grain),
            minutes=item.minutes,
            p_wait=chances.get(item.id, 0.0),
        )
        for item in network.appointments
    )
