"""Promises under the rule of the day, judged on draws that stay with each request.

A booking keeps its draws wherever it is, so that one which no change reaches keeps its estimate to
the last digit: what stands is never blamed for the luck of other draws.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.timetable.pool import draw_pool
from planner.engine.booking.timetable.rundate import NEVER, run_date
from planner.engine.network import Network
from planner.engine.sessions.things import Thing, sort_key
from planner.engine.units import DAY

MARGIN = 1.5
"""Standard errors by which a new estimate must stay below a promise."""
EPSILON = 1e-9

End = tuple[str, int, int, int]
"""``station``, its place, day and closing time; or ``shift``, its technician's place and times."""


@dataclass(slots=True)
class Hours:
    """When sites close for the day, and when shifts end, looked up by station and technician."""

    network: Network
    _closes: dict[tuple[int, int], int] = field(init=False)
    _shifts: list[tuple[list[int], list[int]]] = field(init=False)

    def __post_init__(self) -> None:
        by_site: dict[tuple[str, int], int] = {}
        for site in self.network.sites:
            for window in site.open:
                place = (site.id, window.start // DAY)
                by_site[place] = max(window.end, by_site.get(place, window.end))
        stations: dict[str, list[int]] = {}
        for k, station in enumerate(self.network.stations):
            stations.setdefault(station.site, []).append(k)
        self._closes = {
            (k, day): end for (site, day), end in by_site.items() for k in stations.get(site, [])
        }
        self._shifts = []
        for person in self.network.technicians:
            spans = sorted((shift.start, shift.end) for shift in person.shifts)
            self._shifts.append(([a for a, _ in spans], [b for _, b in spans]))

    def closes(self, station: int, day: int) -> int | None:
        """The end of the last opening time of the station's site on a day."""
        return self._closes.get((station, day))

    def shift(self, technician: int, minute: int) -> tuple[int, int] | None:
        """Start and end of the shift in which a minute lies."""
        if technician < 0:
            return None
        starts, ends = self._shifts[technician]
        k = bisect_right(starts, minute) - 1
        return (starts[k], ends[k]) if k >= 0 and minute < ends[k] else None


@dataclass(frozen=True, slots=True)
class Risks:
    """Estimates: P(wait too long) by request id, P(end too late) by station-day and by shift.

    ``last`` has the requests that an end comes after, in order of planned start.
    """

    waits: dict[str, float] = field(default_factory=dict)
    ends: dict[End, float] = field(default_factory=dict)
    last: dict[End, list[str]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Broken:
    """A promise that is not kept, and the booking that can give way for it."""

    request: str
    what: str


class Judge:
    """Runs days on common draws: request number k has its own turn of the pool's vectors.

    ``numbers`` gives every request, by id, its number; ``draws`` estimates stand behind each risk.
    """

    def __init__(
        self, network: Network, numbers: Mapping[str, int], *, draws: int, seed: int
    ) -> None:
        self.network = network
        self.numbers = numbers
        self.pool = draw_pool(network, draws=draws, seed=seed)
        self.profile = {item.id: k for k, item in enumerate(network.profiles)}
        self._lengths: dict[tuple[str, str], NDArray[np.float32]] = {}
        policy = network.policy
        self.wait_limit = _limit(policy.wait_risk, draws)
        self.late_limit = _limit(policy.overtime_risk, draws)

    def lengths(self, request: str, profile: str) -> NDArray[np.float32]:
        """The drawn lengths of a request, shape (draws,), as `run_date` turns them."""
        known = self._lengths.get((request, profile))
        if known is None:
            number, (_, vectors, draws) = self.numbers[request], self.pool.shape
            vector = self.pool[self.profile[profile], number % vectors]
            known = np.roll(vector, -(number // vectors * 997 % draws))
            self._lengths[request, profile] = known
        return known

    def risks(self, things: Iterable[Thing], hours: Hours) -> Risks:
        """Estimate what the things risk; they may be of many dates, lateness carries over."""
        order = sorted(things, key=sort_key)
        stations = _places(item.station for item in order)
        people = _places(item.technician for item in order)
        ready = np.full((len(stations) + len(people), self.pool.shape[2]), -1e6, dtype=np.float32)
        people = {k: len(stations) + place for k, place in people.items()}
        stations[-1] = people[-1] = -1
        found = Risks()
        before: int | None = None
        for date, group in groupby(order, key=lambda item: item.order // DAY):
            if before is not None:
                ready -= np.float32(DAY * (date - before))
            before = date
            mine = list(group)
            table = np.array(
                [self._row(item, date * DAY, hours, stations, people) for item in mine],
                dtype=np.int32,
            )
            self._run(mine, date, table, ready, hours, found)
        return found

    def _row(
        self, item: Thing, base: int, hours: Hours, stations: dict[int, int], people: dict[int, int]
    ) -> tuple[int, ...]:
        closes = hours.closes(item.station, base // DAY) if item.key else None
        shift = hours.shift(item.technician, item.order)
        return (
            item.own - base, item.minutes, stations[item.station], people[item.technician],
            self.profile[item.profile] if item.key else -1,
            self.numbers[item.key] if item.key else 0,
            NEVER if closes is None else closes - base,
            NEVER if shift is None else shift[1] - base,
        )  # fmt: skip

    def _run(
        self, things: list[Thing], date: int, table: NDArray[np.int32],
        ready: NDArray[np.float32], hours: Hours, found: Risks,
    ) -> None:  # fmt: skip
        draws, policy = self.pool.shape[2], self.network.policy
        counts = np.zeros((len(things), 3), dtype=np.int32)
        run_date(table, self.pool, ready, policy.wait_minutes, policy.overtime_minutes, counts)
        latest: dict[int, str] = {}
        for item, (waits, station_late, shift_late) in zip(things, counts.tolist(), strict=True):
            if item.key:
                found.waits[item.key] = waits / draws
                latest[item.station] = item.key
                if (closes := hours.closes(item.station, date)) is not None:
                    end: End = ("station", item.station, date, closes)
                    found.ends[end] = station_late / draws
                    found.last.setdefault(end, []).append(item.key)
            if (shift := hours.shift(item.technician, item.order)) is not None:
                end = ("shift", item.technician, *shift)
                found.ends[end] = shift_late / draws
                # Care comes after whoever had its station, also where its technician had nobody.
                who = item.key or latest.get(item.station)
                if who:
                    found.last.setdefault(end, []).append(who)

    def waits_too_long(
        self, request: str, risk: float, before: Risks, decided: set[str], moved: set[str]
    ) -> bool:
        """Whether the promise to one request is `broken`."""
        was = 0.0 if request in moved else before.waits.get(request, 0.0)
        return request in decided and risk > max(self.wait_limit, was + EPSILON)

    def broken(
        self, risks: Risks, before: Risks, decided: set[str], moved: set[str]
    ) -> list[Broken]:
        """Promises that do not hold, and held better before.

        ``decided`` are the requests with a booking of the run (fixed appointments are none), and
        ``moved`` those of them that do not stand where they were: what they risked before says
        nothing. A station-day or shift without a booking of the run is not its doing.
        """
        found = [
            Broken(request, "waits too long")
            for request, risk in risks.waits.items()
            if self.waits_too_long(request, risk, before, decided, moved)
        ]
        for end, risk in risks.ends.items():
            if risk > max(self.late_limit, before.ends.get(end, 0.0) + EPSILON):
                mine = [request for request in risks.last.get(end, ()) if request in decided]
                if mine:
                    found.append(Broken(mine[-1], "ends too late"))
        return found


def _places(things: Iterable[int]) -> dict[int, int]:
    """The things that exist (-1 is none), numbered."""
    return {thing: k for k, thing in enumerate(sorted({thing for thing in things if thing >= 0}))}


def _limit(risk: float, draws: int) -> float:
    if risk >= 1:
        return 1.0
    error: float = (risk * (1 - risk) / draws) ** 0.5
    return max(0.0, risk - MARGIN * error)
