"""A plan as an appointment book: what stands when at each station and in each shift."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from dataclasses import dataclass, field

from planner.engine.booking.problem import Index, index_of
from planner.engine.network import Network
from planner.engine.plan import Booking, Plan
from planner.engine.sessions.things import Thing, plan_things
from planner.engine.units import DAY

Group = tuple[int, int]
"""A site's place in the network's list, and a day."""
Span = tuple[int, int]
ShiftKey = tuple[int, int]
"""A technician's place in the network's list, and a shift's in the technician's."""


@dataclass(frozen=True, slots=True)
class Item:
    """A thing of the rule of the day with its planned end, its site-day and its shift.

    ``shift`` is the index in the technician's list, -1 where nobody takes part; ``fixed`` marks
    what no run may move; ``number`` picks the draws of a booking, ``rework`` says whether it is.
    """

    thing: Thing
    end: int
    group: Group
    shift: int
    fixed: bool = True
    number: int = 0
    rework: bool = False


@dataclass(frozen=True, slots=True)
class Change:
    """The plan with the bookings of some requests taken out and some bookings put in."""

    gone: frozenset[str] = frozenset()
    added: tuple[Item, ...] = ()


NO_CHANGE = Change()


@dataclass(slots=True)
class Book:
    """A network and a plan that keeps rules 1 to 7, indexed.

    ``openings`` has the opening times of each site-day of the horizon, ``shifts_at`` the shifts
    that touch it; ``on_station`` and ``on_shift`` the items there, by start.
    """

    network: Network
    plan: Plan
    index: Index = field(init=False)
    booked: dict[str, Booking] = field(init=False)
    openings: dict[Group, list[Span]] = field(init=False)
    stations_at: dict[int, list[int]] = field(init=False)
    shifts_at: dict[Group, list[ShiftKey]] = field(init=False)
    items: dict[Group, list[Item]] = field(init=False)
    on_station: dict[Group, list[Item]] = field(init=False)
    on_shift: dict[ShiftKey, list[Item]] = field(init=False)
    reserve: dict[Group, int] = field(init=False)
    _starts: list[list[tuple[int, int]]] = field(init=False)

    def __post_init__(self) -> None:
        network = self.network
        self.index = index_of(network)
        self.booked = {booking.request: booking for booking in self.plan.bookings}
        self.openings, self.stations_at = defaultdict(list), defaultdict(list)
        self.shifts_at = defaultdict(list)
        for s, site in enumerate(network.sites):
            for window in sorted(site.open, key=lambda item: item.start):
                if 0 <= window.start // DAY < network.days:
                    self.openings[s, window.start // DAY].append((window.start, window.end))
        for k, station in enumerate(network.stations):
            self.stations_at[self.index.site[station.site]].append(k)
        self._starts = []
        for k, person in enumerate(network.technicians):
            self._starts.append(sorted((item.start, n) for n, item in enumerate(person.shifts)))
            for n, shift in enumerate(person.shifts):
                for day in range(shift.start // DAY, (shift.end - 1) // DAY + 1):
                    self.shifts_at[self.index.site[shift.site], day].append((k, n))
        self.reserve = {
            (self.index.site[item.site], item.day): item.minutes for item in network.reserve
        }
        self._write_items()

    def _write_items(self) -> None:
        network, plan = self.network, self.plan
        fixed = {item.request for item in network.appointments if item.fixed}
        self.items, self.on_station = defaultdict(list), defaultdict(list)
        self.on_shift = defaultdict(list)
        for thing in plan_things(network, plan.bookings, plan.care, plan.breaks):
            minutes, number, rework = thing.minutes, 0, False
            if thing.key:
                minutes, number = self.booked[thing.key].minutes, self.index.request[thing.key]
                rework = network.requests[number].rework
            shift = self.shift_of(thing.technician, thing.order)
            item = Item(
                thing,
                thing.order + minutes,
                self._group(thing, shift),
                shift,
                not thing.key or thing.key in fixed,
                number,
                rework,
            )
            self.items[item.group].append(item)
            if thing.station >= 0:
                self.on_station[thing.station, item.group[1]].append(item)
            if thing.technician >= 0:
                self.on_shift[thing.technician, shift].append(item)

    def shift_of(self, technician: int, minute: int) -> int:
        """The technician's shift that ``minute`` lies in; -1 for no technician or no shift."""
        if technician < 0:
            return -1
        starts = self._starts[technician]
        place = bisect_right(starts, (minute, len(starts))) - 1
        if place < 0:
            return -1
        n = starts[place][1]
        return n if minute < self.network.technicians[technician].shifts[n].end else -1

    def _group(self, thing: Thing, shift: int) -> Group:
        if thing.station >= 0:
            name = self.network.stations[thing.station].site
        else:
            name = self.network.technicians[thing.technician].shifts[shift].site
        return self.index.site[name], thing.order // DAY

    def closes(self, group: Group) -> int:
        """When the site closes for the day."""
        return max(end for _, end in self.openings[group])


def after(items: list[Item], change: Change) -> list[Item]:
    """The items that a change leaves; what it adds is not among them."""
    return [item for item in items if item.thing.key not in change.gone or not item.thing.key]
