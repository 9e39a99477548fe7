"""Fixed appointments that no plan can honour, named before any planning (rules 1 to 4 and 7)."""

from __future__ import annotations

from planner.engine.errors import Fault, NetworkImpossible
from planner.engine.network import Appointment, Network, Request, Shift, Station
from planner.engine.units import DAY, minute_text

REMEDY = "move or free this appointment, or change what it collides with"


def check_fixed(network: Network) -> None:
    """Raise NetworkImpossible with every fixed appointment that breaks rules 1 to 4 or 6."""
    requests = {request.id: request for request in network.requests}
    stations = {station.id: station for station in network.stations}
    faults: list[Fault] = []
    fixed = [(number, item) for number, item in enumerate(network.appointments) if item.fixed]
    for number, item in fixed:
        problems = _alone(network, item, requests[item.request], stations[item.station])
        faults += [Fault(f"appointments[{number}]", text, REMEDY) for text in problems]
    faults += _collisions(network, fixed)
    if not faults:
        faults += _breaks(network, fixed)
    if faults:
        raise NetworkImpossible(faults)


def _alone(network: Network, item: Appointment, request: Request, station: Station) -> list[str]:
    start, end = item.start, item.start + item.minutes
    name = f"fixed appointment {item.id} of request {request.id}"
    when = minute_text(start, network.first_day)
    day = start // DAY
    choice = next((one for one in request.sites if one.site == station.site), None)
    problems = []
    if choice is None:
        return [f"{name} is at site {station.site}, which the request does not name"]
    if not 0 <= day < network.days:
        problems.append(f"{name} at {when} lies outside the horizon")
    if day < request.release:
        problems.append(f"{name} at {when} is before the request's release")
    if request.available and not any(
        window.start <= start and end <= window.end for window in request.available
    ):
        problems.append(f"{name} at {when} is outside the subject's available times")
    if not set(request.features) <= set(station.features):
        problems.append(f"{name}: station {station.id} lacks a feature that it asks for")
    person = next(one for one in network.technicians if one.id == item.technician)
    profile = choice.profile or request.profile
    asked = set(request.skills)
    asked |= set(next(one for one in network.profiles if one.id == profile).skills)
    if not asked <= set(person.skills):
        problems.append(f"{name}: technician {person.id} lacks a skill that it asks for")
    site = next(one for one in network.sites if one.id == station.site)
    if not any(window.start <= start and end <= window.end for window in site.open):
        problems.append(f"{name} at {when} for {item.minutes} min: site {site.id} is not open")
    for closure in station.closed:
        if closure.start < end and start < closure.end:
            problems.append(f"{name} at {when}: station {station.id} is closed ({closure.why})")
    if _shift_of(person.shifts, site.id, start, end) is None:
        problems.append(f"{name} at {when}: technician {person.id} is not on shift there")
    return problems


def _shift_of(shifts: tuple[Shift, ...], site: str, start: int, end: int) -> int | None:
    for number, shift in enumerate(shifts):
        if shift.site == site and shift.start <= start and end <= shift.end:
            return number
    return None


def _collisions(network: Network, fixed: list[tuple[int, Appointment]]) -> list[Fault]:
    faults = []
    by_thing: dict[tuple[str, str], list[tuple[int, Appointment]]] = {}
    for number, item in fixed:
        by_thing.setdefault(("station", item.station), []).append((number, item))
        by_thing.setdefault(("technician", item.technician), []).append((number, item))
    for (kind, name), items in by_thing.items():
        last: tuple[int, Appointment] | None = None
        for number, item in sorted(items, key=lambda pair: (pair[1].start, pair[0])):
            if last is not None and item.start < last[1].start + last[1].minutes:
                when = minute_text(item.start, network.first_day)
                text = (
                    f"fixed appointments {last[1].id} and {item.id} collide on {kind} {name}"
                    f" at {when}"
                )
                faults.append(Fault(f"appointments[{number}]", text, REMEDY))
            if last is None or item.start + item.minutes > last[1].start + last[1].minutes:
                last = (number, item)
    return faults


def _breaks(network: Network, fixed: list[tuple[int, Appointment]]) -> list[Fault]:
    busy: dict[str, list[tuple[int, int]]] = {}
    for _, item in fixed:
        busy.setdefault(item.technician, []).append((item.start, item.start + item.minutes))
    faults = []
    for k, person in enumerate(network.technicians):
        for number, shift in enumerate(person.shifts):
            spans = busy.get(person.id, [])
            if shift.break_minutes and spans and not _has_room(shift, spans):
                text = (
                    f"fixed appointments of technician {person.id} leave no room for the break"
                    f" of {shift.break_minutes} min"
                )
                faults.append(Fault(f"technicians[{k}].shifts[{number}]", text, REMEDY))
    return faults


def _has_room(shift: Shift, busy: list[tuple[int, int]]) -> bool:
    edge = shift.break_start
    for low, high in sorted(busy):
        if high <= edge:
            continue
        if low >= edge + shift.break_minutes:
            break
        edge = high
    return edge + shift.break_minutes <= shift.break_end
