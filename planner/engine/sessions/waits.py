"""The rule of the day (rule 9), simulated: who waits, and what ends late."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.engine.sessions.draws import Draws
from planner.engine.sessions.things import Thing, closed_things, plan_things, profile_at, sort_key
from planner.engine.units import DAY

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from planner.engine.network import Network
    from planner.engine.plan import Booking, Break, CarePlaced
    from planner.engine.sessions.grid import Floats

__all__ = [
    "Draws",
    "Outcome",
    "Thing",
    "assess",
    "breaks_promise",
    "closed_things",
    "happen",
    "plan_things",
    "profile_at",
    "run_day",
    "sort_key",
]

_ROUNDING = 1e-6  # minutes; sums of grid lengths are not exact in binary


@dataclass(frozen=True, slots=True)
class Outcome:
    """Estimated probabilities under the rule of the day.

    ``p_wait`` by request: P(begins more than the policy's wait minutes after the told time).
    ``station_overtime`` by station and day: P(its last session ends more than the overtime minutes
    after the site closes for the day); only days with a session and an opening time.
    ``shift_overtime`` by technician and index of the shift: the same for the last thing planned to
    start in the shift, and the shift's end.
    """

    p_wait: dict[str, float]
    station_overtime: dict[tuple[str, int], float]
    shift_overtime: dict[tuple[str, int], float]


def breaks_promise(estimate: float, promise: float, draws: int) -> bool:
    """Whether an estimate from so many draws breaks a promised risk (rule 9): by 4 std errors."""
    return estimate > promise + 4 * math.sqrt(promise * (1 - promise) / draws)


def happen(things: Iterable[Thing], draws: Draws) -> Iterator[tuple[Thing, Floats, Floats]]:
    """Each thing with its beginnings and ends, shape (n,), minutes; things in order of the day.

    A thing begins at the latest of its own time and the moment its station and its technician
    have finished the thing before. Only the last end of every station and technician is kept, so
    memory does not grow with the plan; both carry over from one day to the next.
    """
    stations: dict[int, Floats] = {}
    people: dict[int, Floats] = {}
    for thing in things:
        begin: Floats = np.full(draws.n, float(thing.own))
        for before in (stations.get(thing.station), people.get(thing.technician)):
            if before is not None:
                np.maximum(begin, before, out=begin)
        end: Floats = begin + (draws.of(thing.key, thing.profile) if thing.key else thing.minutes)
        if thing.station >= 0:
            stations[thing.station] = end
        if thing.technician >= 0:
            people[thing.technician] = end
        yield thing, begin, end


def run_day(things: Sequence[Thing], draws: Draws) -> list[tuple[Floats, Floats]]:
    """Beginning and end, each of shape (n,), of every thing, in the order given."""
    return [(begin, end) for _, begin, end in happen(things, draws)]


def assess(
    network: Network,
    bookings: Iterable[Booking],
    care: Iterable[CarePlaced],
    breaks: Iterable[Break],
    *,
    draws_n: int,
    seed: int,
    purpose: str,
) -> Outcome:
    """Estimate what a plan risks, by ``draws_n`` drawn runs of the whole horizon.

    Plans that break other rules are run as they stand (see `plan_things`). A request booked twice
    gets the larger of its two risks.
    """
    things = plan_things(network, bookings, care, breaks)
    profiles = {profile.id: profile for profile in network.profiles}
    draws = Draws(profiles, seed, draws_n, purpose)
    patience = network.policy.wait_minutes + _ROUNDING
    slack = network.policy.overtime_minutes + _ROUNDING
    closes = _closing_times(network)
    outcome = Outcome({}, {}, {})
    last_session: dict[int, tuple[int, Floats]] = {}
    last_thing: dict[int, tuple[int, Floats]] = {}

    def close_station(station: int) -> None:
        day, end = last_session.pop(station)
        closing = closes.get((network.stations[station].site, day))
        if closing is not None:
            risk = float(np.mean(end > closing + slack))
            outcome.station_overtime[network.stations[station].id, day] = risk

    def close_shift(person: int) -> None:
        index, end = last_thing.pop(person)
        limit = network.technicians[person].shifts[index].end + slack
        outcome.shift_overtime[network.technicians[person].id, index] = float(np.mean(end > limit))

    for thing, begin, end in happen(things, draws):
        if thing.key:
            risk = float(np.mean(begin > thing.own + patience))
            outcome.p_wait[thing.key] = max(risk, outcome.p_wait.get(thing.key, 0.0))
            day = thing.order // DAY
            if thing.station in last_session and last_session[thing.station][0] != day:
                close_station(thing.station)
            last_session[thing.station] = (day, end)
        shift = _shift_of(network, thing)
        if shift is not None:
            known = last_thing.get(thing.technician)
            if known is not None and known[0] != shift:
                close_shift(thing.technician)
            last_thing[thing.technician] = (shift, end)
    for station in list(last_session):
        close_station(station)
    for person in list(last_thing):
        close_shift(person)
    return outcome


def _closing_times(network: Network) -> dict[tuple[str, int], int]:
    """The end of the last opening time of each site and day."""
    closes: dict[tuple[str, int], int] = {}
    for site in network.sites:
        for window in site.open:
            place = (site.id, window.start // DAY)
            closes[place] = max(window.end, closes.get(place, window.end))
    return closes


def _shift_of(network: Network, thing: Thing) -> int | None:
    """The index of the shift in which a technician's thing is planned to start, if any."""
    if thing.technician < 0:
        return None
    for index, shift in enumerate(network.technicians[thing.technician].shifts):
        if shift.start <= thing.order < shift.end:
            return index
    return None
