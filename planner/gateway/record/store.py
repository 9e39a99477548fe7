"""A network into the record: everything new, all or nothing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.engine.errors import Fault, FileRefused
from planner.engine.network import Network
from planner.gateway.record.horizon import Horizon
from planner.gateway.record.store_check import store_faults
from planner.gateway.record.store_demand import store_appointments, store_requests
from planner.gateway.record.store_places import store_places
from planner.gateway.record.store_rows import Keys
from sites.errors import RecordError
from sites.models import Programme, ProgrammeVersion
from sites.services.write import written


@dataclass(frozen=True, slots=True)
class Stored:
    """How much there is now that was not before."""

    programme: str
    sites: int
    stations: int
    technicians: int
    requests: int
    care: int
    appointments: int


def store(network: Network, *, name: str = "imported") -> Stored:
    """Bring a network into the record; see the package."""
    faults = list(store_faults(network))
    if faults:
        raise FileRefused(faults)
    try:
        return _store(network, name)
    except RecordError as error:
        raise FileRefused([Fault(error.value, error.problem, error.remedy)]) from error


@written
def _store(network: Network, name: str) -> Stored:
    horizon = Horizon(network.first_day, network.days)
    terms = _programme(network, horizon, name)
    keys = Keys()
    store_places(network, horizon, keys)
    store_requests(network, horizon, keys, terms)
    store_appointments(network, horizon, keys)
    return Stored(
        programme=terms.programme.code,
        sites=len(network.sites),
        stations=len(network.stations),
        technicians=len(network.technicians),
        requests=len(network.requests),
        care=len(network.care),
        appointments=len(network.appointments),
    )


def _programme(network: Network, horizon: Horizon, name: str) -> ProgrammeVersion:
    """A programme of its own with the network's policy, in force for all its requests."""
    taken = set(Programme.objects.filter(code__startswith=name).values_list("code", flat=True))
    code = next(each for each in _codes(name) if each not in taken)
    programme = Programme.objects.create(code=code, name=code)
    policy, cost = network.policy, network.policy.cost
    first = min((row.release for row in network.requests), default=0)
    return ProgrammeVersion.objects.create(
        programme=programme,
        starts_on=horizon.calendar(min(first, 0)),
        grain_minutes=network.grain,
        wait_minutes=policy.wait_minutes,
        wait_risk=policy.wait_risk,
        overtime_minutes=policy.overtime_minutes,
        overtime_risk=policy.overtime_risk,
        cost_unbooked=cost.unbooked,
        cost_late_day=cost.late_day,
        cost_wait_day=cost.wait_day,
        cost_travel_minute=cost.travel_minute,
        cost_move=cost.move,
    )


def _codes(name: str) -> Iterator[str]:
    yield name
    number = 2
    while True:
        yield f"{name}-{number}"
        number += 1
