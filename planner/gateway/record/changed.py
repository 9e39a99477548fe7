"""What a plan wants that the record no longer allows: two networks compared, item by item.

Nothing here reads the record: ``then`` is the network that was planned with, ``now`` the one that
the record gives at the moment of writing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from planner.engine.network import Appointment, Network, Request, Shift, Station, Window
from planner.engine.plan import Plan
from planner.gateway.record.horizon import covers


@dataclass(frozen=True, slots=True)
class Changed:
    """Something of the plan that was not written: ``kind`` is booking, drop, care or break."""

    kind: str
    id: str
    problem: str
    remedy: str = "plan again"

    def __str__(self) -> str:
        return f"{self.kind} {self.id}: {self.problem}; {self.remedy}"


@dataclass(frozen=True, slots=True)
class Place:
    """A station, a technician, or both, for minutes ``[start, end)``."""

    station: str | None
    technician: str | None
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that a plan puts somewhere (``new`` None: nowhere), and where it is (``old``)."""

    kind: str
    id: str
    new: Place | None
    old: Place | None


class Side:
    """One of the two networks, by id."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.requests = {row.id: row for row in network.requests}
        self.booked = {row.request: row for row in network.appointments}
        self.stations: dict[str, Station] = {row.id: row for row in network.stations}
        self.crew = {row.id: row for row in network.technicians}
        self.open = {row.id: row.open for row in network.sites}
        self.care = {row.id: row for row in network.care}

    def fault_at(self, place: Place, *, site: str | None = None) -> str | None:
        """Why nothing can be there, whoever else is."""
        if place.station is not None:
            station = self.stations.get(place.station)
            if station is None:
                return f"station {place.station} is gone"
            site = station.site
            if not covers(self.open.get(site, ()), place.start, place.end):
                return f"{site} is closed at that time now"
            if any(each.start < place.end and place.start < each.end for each in station.closed):
                return f"station {place.station} is closed at that time now"
        if place.technician is not None:
            shifts = self.shifts(place.technician, site)
            if not covers(
                [Window(each.start, each.end) for each in shifts], place.start, place.end
            ):
                return f"technician {place.technician} is not on shift there at that time now"
        return None

    def shifts(self, technician: str, site: str | None) -> list[Shift]:
        """Shifts of a technician, at a site if one is named."""
        person = self.crew.get(technician)
        rows = () if person is None else person.shifts
        return [each for each in rows if site is None or each.site == site]


def at(row: Appointment | None) -> Place | None:
    """Where an appointment is."""
    if row is None:
        return None
    return Place(row.station, row.technician, row.start, row.start + row.minutes)


def asks(request: Request) -> tuple[object, ...]:
    """What a request asks of a booking: not its price, nor how far the sites are."""
    return (
        request.profile,
        request.release,
        request.rework,
        sorted((each.site, each.profile or "") for each in request.sites),
        sorted((each.start, each.end) for each in request.available),
        sorted(request.features),
        sorted(request.skills),
    )


def booking_faults(plan: Plan, then: Side, now: Side) -> tuple[list[Item], list[Changed]]:
    """What of the bookings still can be written, and what cannot."""
    items: list[Item] = []
    changed: list[Changed] = []
    for booking in plan.bookings:
        key = booking.request
        place = Place(
            booking.station, booking.technician, booking.start, booking.start + booking.minutes
        )
        stands = now.booked.get(key)
        problem = _request_fault(key, then, now)
        if problem is None and at(stands) != place:
            problem = now.fault_at(place) or _lacks(key, place, now)
        if problem is None:
            items.append(Item("booking", key, place, at(stands)))
        else:
            changed.append(Changed("booking", key, problem))
    return items, changed


def drop_faults(plan: Plan, then: Side, now: Side) -> tuple[list[Item], list[Changed]]:
    """Appointments that the plan gives up."""
    items: list[Item] = []
    changed: list[Changed] = []
    for row in plan.unbooked:
        was = then.booked.get(row.request)
        if was is None:
            continue
        problem = _request_fault(row.request, then, now)
        if problem is None:
            items.append(Item("drop", row.request, None, at(was)))
        else:
            changed.append(Changed("drop", row.request, problem))
    return items, changed


def _request_fault(key: str, then: Side, now: Side) -> str | None:
    before, after = then.requests.get(key), now.requests.get(key)
    if after is None:
        return "is no longer to book here: booked elsewhere, served, expired or closed"
    if before is None or asks(before) != asks(after):
        return "asks for something else now"
    was, stands = then.booked.get(key), now.booked.get(key)
    if (was is None) != (stands is None):
        return "was booked meanwhile" if was is None else "lost its appointment meanwhile"
    if (
        was is not None
        and stands is not None
        and (was.id, at(was), was.fixed)
        != (
            stands.id,
            at(stands),
            stands.fixed,
        )
    ):
        return "was moved or fixed meanwhile"
    return None


def _lacks(key: str, place: Place, now: Side) -> str | None:
    """Features and skills that the place has lost."""
    request = now.requests[key]
    station = now.stations[str(place.station)]
    profiles = {row.id: row for row in now.network.profiles}
    choice = next((each for each in request.sites if each.site == station.site), None)
    if choice is None:
        return f"does not accept {station.site} now"
    skills = {*request.skills, *profiles[choice.profile or request.profile].skills}
    if missing := set(request.features) - set(station.features):
        return f"station {station.id} lacks {', '.join(sorted(missing))} now"
    if missing := skills - set(now.crew[str(place.technician)].skills):
        return f"technician {place.technician} lacks {', '.join(sorted(missing))} now"
    return None


def care_faults(
    plan: Plan, then: Side, now: Side, placed: dict[str, Place]
) -> tuple[list[Item], list[Changed]]:
    """Care that the plan places; ``placed`` is where it is now, where it has a time."""
    items: list[Item] = []
    changed: list[Changed] = []
    for row in plan.care:
        before, after = then.care.get(row.care), now.care.get(row.care)
        if before is None or before != after:
            changed.append(Changed("care", row.care, "was changed, fixed or done meanwhile"))
            continue
        place = Place(before.station, row.technician, row.start, row.start + before.minutes)
        problem = now.fault_at(place)
        if problem is None:
            items.append(Item("care", row.care, place, placed.get(row.care)))
        else:
            changed.append(Changed("care", row.care, problem))
    for left in plan.care_unplaced:
        if left.care in placed and then.care.get(left.care) == now.care.get(left.care):
            items.append(Item("care", left.care, None, placed[left.care]))
    return items, changed


def break_faults(
    plan: Plan, now: Side, placed: Callable[[str, int], Place | None]
) -> tuple[list[Item], list[Changed]]:
    """Breaks that the plan places; ``placed`` says where a technician's break of that shift is."""
    items: list[Item] = []
    changed: list[Changed] = []
    for row in plan.breaks:
        name = f"{row.technician}@{row.start}"
        end = row.start + row.minutes
        shift = next(
            (
                each
                for each in now.shifts(row.technician, None)
                if each.start <= row.start and end <= each.end
            ),
            None,
        )
        if shift is None or shift.break_minutes != row.minutes:
            changed.append(Changed("break", name, "the shift has no such break now"))
            continue
        place = Place(None, row.technician, row.start, end)
        items.append(Item("break", name, place, placed(row.technician, row.start)))
    return items, changed


def settled(items: Iterable[Item], standing: Iterable[Place], changed: list[Changed]) -> list[Item]:
    """The items that can all be written together beside what stands; the rest joins ``changed``.

    What cannot be written stays where it is, which can be in the way of others: so the search for
    collisions goes on until there are none.
    """
    going = list(items)
    stands = list(standing)
    while True:
        bad = _colliding(going, stands)
        if not bad:
            return going
        for item in (going[i] for i in sorted(bad)):
            changed.append(Changed(item.kind, item.id, "its time is taken by somebody else now"))
            stands += [item.old] if item.old is not None else []
        going = [item for i, item in enumerate(going) if i not in bad]


def _colliding(going: list[Item], stands: list[Place]) -> set[int]:
    """Items whose new place overlaps something that stands."""
    lines: dict[tuple[str, str], list[tuple[int, int, int]]] = {}
    for number, place in [*((-1, each) for each in stands), *enumerate(i.new for i in going)]:
        if place is None:
            continue
        for kind, who in (("station", place.station), ("technician", place.technician)):
            if who is not None:
                lines.setdefault((kind, who), []).append((place.start, place.end, number))
    bad: set[int] = set()
    for line in lines.values():
        last: tuple[int, int, int] | None = None
        for each in sorted(line):
            if last is not None and each[0] < last[1]:
                bad |= {number for number in (each[2], last[2]) if number >= 0}
            if last is None or each[1] > last[1]:
                last = each
    return bad
