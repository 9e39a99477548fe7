"""The rules that a network keeps, checked on the typed value; every fault is listed with its path.

Paths are those of the network file (``requests[17].due``, ``sites[0].open[1].to``), whether the
network was read from one or built in Python.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.engine.network_rules.appointments import Named, appointment_faults
from planner.engine.network_rules.basics import horizon_faults, policy_faults, profile_faults
from planner.engine.network_rules.demand import request_faults, reserve_faults
from planner.engine.network_rules.places import (
    care_faults,
    site_faults,
    station_faults,
    technician_faults,
)

if TYPE_CHECKING:
    from planner.engine.errors import Fault
    from planner.engine.network import Network
    from planner.engine.network_rules.found import Found

__all__ = ["broken_rules", "network_faults"]


def network_faults(network: Network) -> list[Fault]:
    """Every fault of the network's values; an empty list where it is sound.

    Types are not checked: a value of the wrong Python type may raise TypeError.
    """
    return [found.fault() for found in broken_rules(network)]


def broken_rules(network: Network) -> list[Found]:
    """`network_faults` with paths in steps; ``network`` may be anything with its attributes."""
    profiles = {profile.id: profile for profile in network.profiles}
    sites = {site.id: site for site in network.sites}
    stations = {station.id: station for station in network.stations}
    technicians = {technician.id: technician for technician in network.technicians}
    requests = {request.id: request for request in network.requests}
    return [
        *horizon_faults(network),
        *policy_faults(network),
        *profile_faults(network),
        *site_faults(network),
        *station_faults(network, sites),
        *technician_faults(network, sites),
        *care_faults(network, stations),
        *request_faults(network, sites, profiles),
        *appointment_faults(network, Named(sites, stations, technicians, requests)),
        *reserve_faults(network, sites),
    ]
