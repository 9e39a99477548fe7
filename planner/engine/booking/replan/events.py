"""What happened since the plan was made: the events that a re-plan answers to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from planner.engine.errors import Fault, FileRefused
from planner.engine.network import Network, Request
from planner.engine.units import DAY, day_text, minute_text


@dataclass(frozen=True, slots=True)
class Outage:
    """A station, technician or site that is not to be had in ``[start, end)``, by its id.

    Times are minutes since the network's ``first_day`` on the site's own wall clock; for a
    technician that is the clock of each shift's site.
    """

    thing: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Events:
    """Stations ``down``, technicians ``absent``, sites ``closed``, requests added and cancelled.

    ``cancelled`` holds ids of requests. Cancelling comes first: an id that is cancelled may be
    added anew.
    """

    down: tuple[Outage, ...] = ()
    absent: tuple[Outage, ...] = ()
    closed: tuple[Outage, ...] = ()
    added: tuple[Request, ...] = ()
    cancelled: tuple[str, ...] = ()


def check_events(network: Network, events: Events) -> None:
    """Raise FileRefused with every event that does not fit the network."""
    stations = {item.id for item in network.stations}
    technicians = {item.id for item in network.technicians}
    sites = {item.id for item in network.sites}
    requests = {item.id for item in network.requests}
    faults = [
        *_outages(network, "down", events.down, "stations", stations),
        *_outages(network, "absent", events.absent, "technicians", technicians),
        *_outages(network, "closed", events.closed, "sites", sites),
        *_known("cancel", enumerate(events.cancelled), "requests", requests),
    ]
    remaining = requests - set(events.cancelled)
    first: dict[str, int] = {}
    for number, request in enumerate(events.added):
        path = f"add[{number}].id"
        if request.id in remaining:
            problem = f'"{request.id}" is a request of the network already'
            faults.append(Fault(path, problem, "give the new request an id of its own"))
        elif (before := first.setdefault(request.id, number)) != number:
            problem = f'"{request.id}" is added twice, first in add[{before}]'
            faults.append(Fault(path, problem, "add each request once"))
    if faults:
        raise FileRefused(faults)


def _outages(
    network: Network, name: str, outages: tuple[Outage, ...], kind: str, ids: set[str]
) -> Iterator[Fault]:
    yield from _known(name, ((k, item.thing) for k, item in enumerate(outages)), kind, ids)
    for number, item in enumerate(outages):
        if item.end <= item.start:
            until, since = (minute_text(m, network.first_day) for m in (item.end, item.start))
            problem = f"TO ({until}) is not after FROM ({since})"
            yield Fault(f"{name}[{number}]", problem, "write a later time, or swap the two")
        elif item.end <= 0 or item.start >= network.days * DAY:
            days = [day_text(day, network.first_day) for day in (0, network.days - 1)]
            problem = f"lies outside the network's days, {days[0]} to {days[1]}"
            yield Fault(f"{name}[{number}]", problem, "write times within them, or leave it out")


def _known(
    name: str, things: Iterable[tuple[int, str]], kind: str, ids: set[str]
) -> Iterator[Fault]:
    for number, thing in things:
        if thing not in ids:
            problem = f'"{thing}" is no id in `{kind}`'
            yield Fault(f"{name}[{number}]", problem, f"write an id that `{kind}` holds")


def by_thing(outages: tuple[Outage, ...]) -> Mapping[str, tuple[tuple[int, int], ...]]:
    """The spans of each thing's outages."""
    found: dict[str, tuple[tuple[int, int], ...]] = {}
    for item in outages:
        found[item.thing] = (*found.get(item.thing, ()), (item.start, item.end))
    return found
