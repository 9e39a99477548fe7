"""A draft as the parts of a plan: bookings, care, breaks, moved appointments."""

from __future__ import annotations

from planner.engine.booking.draft import Draft
from planner.engine.booking.siteday import Block, SiteDay
from planner.engine.plan import Booking, Break, CarePlaced
from planner.engine.units import DAY, told


def bookings_of(draft: Draft, p_wait: dict[str, float]) -> tuple[Booking, ...]:
    """Every booking, fixed appointments included, by start and station."""
    found = []
    for day in draft.days:
        siteday = draft.problem.sitedays[day.siteday]
        for slot in day.slots:
            block = Block(slot.start, slot.job.minutes, slot.station, slot.worker, 0,
                          slot.job.request)  # fmt: skip
            found.append(_booking(draft, siteday, block, p_wait))
        for block in (*day.pinned, *siteday.fixed):
            if block.request >= 0:
                found.append(_booking(draft, siteday, block, p_wait))
    return tuple(sorted(found, key=lambda item: (item.start, item.site, item.station)))


def _booking(draft: Draft, siteday: SiteDay, block: Block, p_wait: dict[str, float]) -> Booking:
    network = draft.problem.network
    request = network.requests[block.request].id
    start = siteday.day * DAY + block.start
    return Booking(
        request=request,
        site=network.sites[siteday.site].id,
        station=network.stations[siteday.stations[block.station]].id,
        technician=network.technicians[siteday.workers[block.worker].technician].id,
        start=start,
        told=told(start, network.grain),
        minutes=block.minutes,
        p_wait=p_wait.get(request, 0.0),
    )


def care_of(draft: Draft) -> tuple[CarePlaced, ...]:
    """Every placed care, in the network's order."""
    network, found = draft.problem.network, {}
    for day in draft.days:
        siteday = draft.problem.sitedays[day.siteday]
        for care, block in day.care:
            person = None
            if block.worker >= 0:
                person = network.technicians[siteday.workers[block.worker].technician].id
            start = siteday.day * DAY + block.start
            found[care] = CarePlaced(network.care[care].id, start, person)
    return tuple(found[care] for care in sorted(found))


def breaks_of(draft: Draft) -> tuple[Break, ...]:
    """Every break, by technician and start."""
    network = draft.problem.network
    people = network.technicians
    found = [
        Break(people[person].id, start, people[person].shifts[shift].break_minutes)
        for (person, shift), start in draft.problem.early_breaks.items()
    ]
    for day in draft.days:
        siteday = draft.problem.sitedays[day.siteday]
        for w, start in enumerate(day.rests):
            if start >= 0:
                worker = siteday.workers[w]
                person = people[worker.technician].id
                found.append(Break(person, siteday.day * DAY + start, worker.break_minutes))
    return tuple(sorted(found, key=lambda item: (item.technician, item.start)))


def moved_of(draft: Draft, bookings: tuple[Booking, ...]) -> tuple[str, ...]:
    """Ids of movable appointments whose station, technician or told time changed, or dropped."""
    network = draft.problem.network
    placed = {item.request: item for item in bookings}
    moved = []
    for item in network.appointments:
        if item.fixed:
            continue
        now = placed.get(item.request)
        if (
            now is None
            or now.station != item.station
            or now.technician != item.technician
            or now.told != told(item.start, network.grain)
        ):
            moved.append(item.id)
    return tuple(moved)
