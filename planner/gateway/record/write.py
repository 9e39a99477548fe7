"""A plan into the record: what still fits in one transaction, the rest as a list."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import datetime
from hashlib import sha256

from django.utils import timezone

from planner.engine.codec import encode_network, encode_plan
from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.engine.units import DAY, told
from planner.gateway.record.changed import (
    Changed,
    Item,
    Place,
    Side,
    booking_faults,
    break_faults,
    care_faults,
    drop_faults,
    settled,
)
from planner.gateway.record.changed import (
    at as place_of,
)
from planner.gateway.record.findings import keep_findings
from planner.gateway.record.horizon import Horizon
from planner.gateway.record.read import Reading, gather
from sites.errors import AlreadyBooked, ChangedMeanwhile, SlotTaken
from sites.models import ACTIVE, Appointment, Break, CareWindow, PlanRun, Request, Shift, User
from sites.selectors.parts import parts
from sites.services.plans import BreakSeat, CareSeat, Seat, plan_keep
from sites.services.runs import run_accept
from sites.services.write import written

TRIES = 4
WHY = "planning run"


@dataclass(frozen=True, slots=True)
class Written:
    """What was written, as counts, and what was not.

    ``booked`` new appointments, ``moved`` ones whose station, technician or told time changed,
    ``dropped`` ones that lost theirs, ``stood`` all others; ``care`` and ``breaks`` given a time.
    """

    run: PlanRun
    booked: int
    moved: int
    dropped: int
    stood: int
    care: int
    breaks: int
    changed: tuple[Changed, ...]


@dataclass(frozen=True, slots=True)
class Look:
    """What `write` would write now, as counts, and what it would not; see `Written`."""

    booked: int
    moved: int
    dropped: int
    stood: int
    care: int
    breaks: int
    changed: tuple[Changed, ...]


def look(network: Network, plan: Plan) -> Look:
    """What would come of writing a plan into the record as it stands; nothing is written.

    Raises FileRefused where the record cannot be planned with any more.
    """
    reading, _, items, changed = _compared(network, plan, Horizon(network.first_day, network.days))
    return Look(**_counts(items, reading, network), changed=tuple(changed))


def write(
    network: Network,
    plan: Plan,
    *,
    by: User | None = None,
    at: datetime | None = None,
    seed: int = 0,
    run: PlanRun | None = None,
) -> Written:
    """Keep a plan that was made for a network that the record gave; see the package."""
    for left in range(TRIES - 1, -1, -1):
        try:
            return _write(network, plan, by, at or timezone.now(), seed, run)
        except (SlotTaken, AlreadyBooked, ChangedMeanwhile):
            # Somebody was faster between our look and our write; the next look sees them.
            if not left:
                raise
    raise AssertionError("unreachable")


@written
def _write(
    network: Network,
    plan: Plan,
    by: User | None,
    at: datetime,
    seed: int,
    asked: PlanRun | None,
) -> Written:
    if asked is not None:
        asked = run_accept(run=asked.pk, by=by, at=at)
    horizon = Horizon(network.first_day, network.days)
    _hold(horizon, plan)
    reading, rests, items, changed = _compared(network, plan, horizon)
    lengths = {row.request: row for row in plan.bookings}
    fresh = [item for item in items if item.new != item.old]
    seats = [
        _seat(item, reading, horizon, lengths[item.id].told, lengths[item.id].p_wait)
        for item in fresh
        if item.kind == "booking"
    ]
    drops = [
        reading.appointments[place.id]
        for item in fresh
        if item.kind == "drop"
        for place in reading.network.appointments
        if place.request == item.id
    ]
    care = [_care(item, reading, horizon) for item in fresh if item.kind == "care"]
    breaks = [rests.seat(item) for item in fresh if item.kind == "break"]
    counts = _counts(items, reading, network)
    run = asked or _new_run(network, plan, seed)
    run.note = f"{len(changed)} not written: changed meanwhile" if changed else ""
    run = plan_keep(
        run=run,
        seats=seats,
        drops=drops,
        care=care,
        breaks=breaks,
        why=WHY,
        outcome={**counts, "changed": [asdict(each) for each in changed]},
        by=by,
        at=at,
    )
    keep_findings(run, plan, reading, horizon)
    return Written(run=run, **counts, changed=tuple(changed))


def _new_run(network: Network, plan: Plan, seed: int) -> PlanRun:
    """A row for a plan that was made without one."""
    return PlanRun(
        first_day=network.first_day,
        days=network.days,
        seed=seed,
        network_digest=sha256(encode_network(network)).hexdigest(),
        plan_digest=sha256(encode_plan(plan, network)).hexdigest(),
        objective=plan.objective,
        bound=plan.bound,
        gap=plan.gap,
        booked=len(plan.bookings),
        unbooked=len(plan.unbooked),
    )


def _compared(
    network: Network, plan: Plan, horizon: Horizon
) -> tuple[Reading, _Breaks, list[Item], list[Changed]]:
    """The record as it stands, and what of the plan it takes."""
    reading = gather(
        first_day=network.first_day,
        days=network.days,
        sites=[site.id for site in network.sites],
        requests=[request.id for request in network.requests],
    )
    rests = _Breaks(reading, horizon)
    return reading, rests, *_items(network, plan, reading, rests, horizon)


def _counts(items: list[Item], reading: Reading, network: Network) -> dict[str, int]:
    """What the items come to."""
    fresh = Counter(item.kind for item in items if item.new != item.old)
    bookings = Counter(_becomes(item, reading, network) for item in items if item.kind == "booking")
    return {
        "booked": bookings["booked"],
        "moved": bookings["moved"],
        "dropped": fresh["drop"],
        "stood": bookings["stood"],
        "care": fresh["care"],
        "breaks": fresh["break"],
    }


def _becomes(item: Item, reading: Reading, network: Network) -> str:
    """Whether a booking is new, moves, or stands, as the engine counts moves.

    Planned minutes, and a start that leaves the told time as it is, are no move. A displaced
    appointment that gets a place is one.
    """
    row = reading.active.get(reading.requests[item.id].pk)
    if row is None or item.new is None:
        return "booked"
    if item.old is None:
        return "moved"
    horizon = Horizon(network.first_day, network.days)
    same = (item.new.station, item.new.technician) == (item.old.station, item.old.technician)
    told_now = horizon.reading(told(item.new.start, network.grain))
    return "stood" if same and told_now == (row.day, row.told_minute) else "moved"


def _hold(horizon: Horizon, plan: Plan) -> None:
    """Keep others from moving what is about to be compared; SQLite lets one writer in anyway.

    The plan's requests are locked too, as whoever books or holds one does: none is put on hold and
    booked at once.
    """
    names = [item.request for item in plan.bookings]
    keys = sorted(
        key
        for part in parts(names)
        for key in Request.objects.filter(reference__in=part).values_list("pk", flat=True)
    )
    for part in parts(keys):
        rows = Request.objects.select_for_update(no_key=True).filter(pk__in=part)
        list(rows.order_by("pk").values_list("pk", flat=True))
    days = {"day__gte": horizon.first_day, "day__lte": horizon.last_day}
    for held in (
        Appointment.objects.filter(step__in=ACTIVE, **days),
        CareWindow.objects.filter(outcome="", latest__gte=horizon.first_day),
    ):
        list(held.select_for_update(of=("self",)).order_by("pk").values_list("pk", flat=True))


def _items(
    network: Network, plan: Plan, reading: Reading, rests: _Breaks, horizon: Horizon
) -> tuple[list[Item], list[Changed]]:
    """What of the plan can be written beside everything that stands."""
    then, now = Side(network), Side(reading.network)
    placed = _care_places(reading, horizon)
    items: list[Item] = []
    changed: list[Changed] = []
    for part in (
        booking_faults(plan, then, now),
        drop_faults(plan, then, now),
        care_faults(plan, then, now, placed),
        break_faults(plan, now, rests.place),
    ):
        items += part[0]
        changed += part[1]
    going = {(item.kind.replace("drop", "booking"), item.id) for item in items}
    standing = [
        *(
            place_of(row)
            for row in now.network.appointments
            if ("booking", row.request) not in going
        ),
        *(place for key, place in placed.items() if ("care", key) not in going),
        *rests.others([item for item in items if item.kind == "break"]),
    ]
    return settled(items, [place for place in standing if place is not None], changed), changed


def _care_places(reading: Reading, horizon: Horizon) -> dict[str, Place]:
    """Where care that a plan may place is now."""
    found = {}
    for key, (care, row) in reading.care.open.items():
        if row.day is not None and row.minute is not None:
            start = horizon.minute(row.day, row.minute)
            who = row.technician.code if row.technician else None
            found[key] = Place(care.station, who, start, start + row.minutes)
    return found


def _seat(item: Item, reading: Reading, horizon: Horizon, told: int, p_wait: float) -> Seat:
    wanted, place = reading.requests[item.id], item.new
    if place is None or place.station is None or place.technician is None:
        raise AssertionError("a booking has a place")
    day, minute = horizon.reading(place.start)
    return Seat(
        request=wanted.pk,
        subject=wanted.subject,
        station=reading.stations[place.station],
        technician=reading.technicians[place.technician],
        day=day,
        minute=minute,
        minutes=place.end - place.start,
        told_minute=told - place.start // DAY * DAY,
        p_wait=p_wait,
        appointment=reading.active.get(wanted.pk),
    )


def _care(item: Item, reading: Reading, horizon: Horizon) -> CareSeat:
    row, place = reading.care.open[item.id][1], item.new
    if place is None:
        return CareSeat(row, None, 0, None)
    day, minute = horizon.reading(place.start)
    who = None if place.technician is None else reading.technicians[place.technician]
    return CareSeat(row, day, minute, who)


class _Breaks:
    """The shifts of the reading, and the breaks that they have."""

    def __init__(self, reading: Reading, horizon: Horizon) -> None:
        self.horizon = horizon
        self.shifts: dict[str, list[Shift]] = {
            code: list(row.shifts.all()) for code, row in reading.technicians.items()
        }
        names = {row.pk: code for code, row in reading.technicians.items()}
        self.placed: dict[int, Place] = {}
        known = {shift.pk for shifts in self.shifts.values() for shift in shifts}
        rows = Break.objects.filter(
            shift__site__in=list(reading.sites.values()),
            day__gte=horizon.calendar(-1),
            day__lte=horizon.calendar(horizon.days),
        )
        for row in rows:
            if row.shift_id in known:
                start = horizon.minute(row.day, row.minute)
                self.placed[row.shift_id] = Place(
                    None, names[row.technician_id], start, start + row.minutes
                )

    def shift(self, technician: str, minute: int) -> Shift:
        """The shift of a technician that a minute lies in."""
        return next(
            row
            for row in self.shifts[technician]
            if 0 <= minute - self.horizon.minute(row.day, row.minute) < row.minutes
        )

    def place(self, technician: str, minute: int) -> Place | None:
        """Where the break of that shift is now."""
        return self.placed.get(self.shift(technician, minute).pk)

    def others(self, items: Iterable[Item]) -> list[Place]:
        """Breaks that stay where they are."""
        going = {
            self.shift(str(item.new.technician), item.new.start).pk for item in items if item.new
        }
        return [place for key, place in self.placed.items() if key not in going]

    def seat(self, item: Item) -> BreakSeat:
        """The break's time on the wall."""
        if item.new is None:
            raise AssertionError("a break has a place")
        shift = self.shift(str(item.new.technician), item.new.start)
        day, minute = self.horizon.reading(item.new.start)
        return BreakSeat(shift, day, minute)
