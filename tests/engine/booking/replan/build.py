"""Plans by hand for small networks, and re-plans that have passed their judge."""

from __future__ import annotations

from dataclasses import replace

from planner.engine.booking.replan import Events, Outage, Replanned, replan
from planner.engine.codec import decode_network, encode_network
from planner.engine.network import Network, Shift, Station, Technician
from planner.engine.plan import Booking, Break, CarePlaced, Plan, Reason, Unbooked
from planner.engine.units import told
from planner.engine.verify import verify
from planner.engine.verify.cost import charges, moved_or_dropped
from planner.engine.verify.facts import gather
from tests.engine.booking.build import at, network, request, site

Place = tuple[str, str, str, int]
"""Request, station, technician, start; every session takes 20 minutes."""


def plan_by_hand(
    given: Network,
    *places: Place,
    care: tuple[CarePlaced, ...] = (),
    breaks: tuple[Break, ...] = (),
) -> Plan:
    """A plan with these bookings; whoever has none is left out. Its bound is 0."""
    site_of = {station.id: station.site for station in given.stations}
    bookings = tuple(
        Booking(name, site_of[station], station, person, start, told(start, given.grain), 20, 0.0)
        for name, station, person, start in places
    )
    booked = {item.request for item in bookings}
    out = tuple(
        Unbooked(item.id, (Reason("full", "by hand", "none"),))
        for item in given.requests
        if item.id not in booked
    )
    lengths = dict.fromkeys([item.id for item in given.profiles], 20)
    plan = Plan(bookings, care, (), breaks, out, (), lengths, 0.0, 0.0, None)
    facts = gather(given, plan)
    moved = tuple(sorted(moved_or_dropped(facts)))
    plan = replace(plan, objective=charges(facts).total, moved=moved)
    assert verify(given, plan, draws=1000, seed=1) == ()
    return plan


def replanned(given: Network, plan: Plan, **events: object) -> Replanned:
    """The re-plan, after the judge found nothing and the network was read back as it was."""
    made = replan(given, plan, Events(**events))  # type: ignore[arg-type]  # by keyword
    assert verify(made.network, made.plan, draws=4000, seed=11) == ()
    assert decode_network(encode_network(made.network)) == made.network
    assert made.plan.bound <= made.plan.objective
    return made


def places(plan: Plan) -> dict[str, tuple[str, str, int]]:
    """Station, technician and start by request."""
    return {item.request: (item.station, item.technician, item.start) for item in plan.bookings}


def outage(thing: str, start: int, end: int) -> tuple[Outage, ...]:
    """One outage."""
    return (Outage(thing, start, end),)


def two_desks(
    count: int, *, days: int = 1, technicians: tuple[str, ...] = ("anna", "ben"), **further: object
) -> Network:
    """Desks ``d1`` and ``d2`` in ``hall``, open 9 to 12; requests ``r1`` ... of 20 minutes."""
    hours = [(at(9, day=day), at(12, day=day)) for day in range(days)]
    asked = tuple(request(f"r{k}", "m20", "hall") for k in range(1, count + 1))
    values: dict[str, object] = {"requests": asked} | further
    return network(
        (site("hall", *hours),),
        (Station("d1", "hall"), Station("d2", "hall")),
        tuple(
            Technician(name, (), tuple(Shift("hall", a, b, 0, a, b) for a, b in hours))
            for name in technicians
        ),
        days=days,
        **values,  # type: ignore[arg-type]  # by keyword
    )
