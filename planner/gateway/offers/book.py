"""A site's days as a network and the plan of what is booked there, whatever the record holds.

The engine's offers need a plan that keeps rules 1 to 7. A record may hold bookings that no longer
do: hours were cut after the booking, a shift was taken away, a skill ran out. Such a booking keeps
its time, as a closed time of its station and an absence of its technician, and only the
lateness that it could cause is lost.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from math import nan

from planner.engine import network as engine
from planner.engine import plan as plans
from planner.engine.network import Closure, Network
from planner.engine.plan import Plan, Price
from planner.engine.sessions.planned import planned_minutes
from planner.engine.sessions.things import profile_at
from planner.engine.verify import verify_undrawn
from planner.gateway.booked import booked_already
from planner.gateway.offers.breaks import placed_breaks
from planner.gateway.offers.rows import SiteRows
from planner.gateway.record.crew import Busy, engine_technician
from planner.gateway.record.places import engine_reserves, engine_site, engine_station
from planner.gateway.record.requests import Around, engine_profile, engine_request
from sites.models import Appointment, CareWindow, Step

LAST_RULE = 7
"""The rules that an offers desk needs kept; promises and reserves are its own to judge."""


@dataclass(frozen=True, slots=True)
class SiteBook:
    """A network of one site and its plan, and how a request of the record looks in it."""

    network: Network
    plan: Plan
    around: Around
    priced: frozenset[int]
    """Days, by number, for which a planning run left prices."""


def site_book(rows: SiteRows, prices: tuple[Price, ...]) -> SiteBook:
    """Build it; what breaks a rule loses its name and keeps its time.

    Raises FileRefused where the site's own rows contradict each other.
    """
    around = Around(
        horizon=rows.horizon,
        policy=rows.policy,
        terms=rows.terms,
        profiles=rows.profiles,
        sites={rows.site.pk: rows.site},
        demand=rows.demand,
        rolled=rows.rolled if rows.flats else None,
    )
    held = _unplaceable(rows)
    for _ in range(2):
        network, plan = _build(rows, around, held, prices)
        odd = _odd(network, plan)
        if not odd:
            break
        held |= {row.pk for row in rows.appointments if _name(rows, row) in odd}
    else:
        held = {row.pk for row in rows.appointments}
        network, plan = _build(rows, around, held, prices)
    named = {each.day for each in prices if each.site == rows.site.code}
    return SiteBook(network, plan, around, frozenset(named))


def _build(
    rows: SiteRows, around: Around, held: Collection[int], prices: tuple[Price, ...]
) -> tuple[Network, Plan]:
    horizon = rows.horizon
    closed: dict[int, list[Closure]] = defaultdict(list)
    busy: dict[int, list[Busy]] = defaultdict(list)
    for station, time in rows.downs:
        closed[station].append(time)
    taken: list[Appointment | CareWindow] = [*rows.care]
    taken += [row for row in rows.appointments if row.pk in held]
    for row in taken:
        if row.day is None or row.minute is None or row.starts_at is None or row.ends_at is None:
            continue
        start = horizon.minute(row.day, row.minute)
        why = row.kind if isinstance(row, CareWindow) else "held"
        closed[row.station_id].append(Closure(start, start + row.minutes, why))
        if row.technician_id is not None:
            busy[row.technician_id].append((row.starts_at, row.ends_at))
    booked = [row for row in rows.appointments if row.pk not in held]
    stations = {row.pk: row.code for row in rows.stations}
    crew = {row.pk: row.code for row in rows.technicians}
    requests = {}
    for row in booked:
        found = engine_request(rows.demand.requests[row.request_id], around)
        if found is not None:
            requests[row.pk] = found
    booked = [row for row in booked if row.pk in requests]
    technicians, breaks = placed_breaks(
        [engine_technician(row, busy[row.pk], horizon) for row in rows.technicians], booked, rows
    )
    network = Network(
        grain=rows.grain,
        first_day=horizon.first_day,
        days=horizon.days,
        policy=rows.policy,
        profiles=tuple(engine_profile(row) for row in rows.profiles.values()),
        sites=(engine_site(rows.site, horizon),),
        stations=tuple(
            engine_station(
                row,
                closed[row.pk],
                horizon,
                rolled=row.pk not in rows.flats if rows.flats else None,
            )
            for row in rows.stations
        ),
        technicians=technicians,
        requests=tuple(requests[row.pk] for row in booked),
        appointments=tuple(
            engine.Appointment(
                id=row.code,
                request=requests[row.pk].id,
                station=stations[row.station_id],
                technician=crew[row.technician_id],
                start=horizon.minute(row.day, row.minute),
                minutes=row.minutes,
                fixed=row.fixed or row.step != Step.BOOKED or row.day == horizon.first_day,
            )
            for row in booked
        ),
        reserve=engine_reserves([rows.site], horizon),
    )
    return network, _plan(network, booked, breaks, prices)


def _plan(
    network: Network,
    booked: list[Appointment],
    breaks: tuple[plans.Break, ...],
    prices: tuple[Price, ...],
) -> Plan:
    """Every appointment where it stands."""
    chances = {row.code: nan if row.p_wait is None else row.p_wait for row in booked}
    return Plan(
        bookings=booked_already(network, chances),
        care=(),
        care_unplaced=(),
        breaks=breaks,
        unbooked=(),
        moved=(),
        lengths=_lengths(network, booked),
        objective=0.0,
        bound=0.0,
        gap=None,
        prices=prices,
    )


def _lengths(network: Network, booked: list[Appointment]) -> dict[str, int]:
    """Planned minutes by profile: the last run's own, else the shortest that keep the promises.

    A run may work with shorter ones where days are full; its bookings show which. Whether a
    booking of that length keeps every promise on its day is judged anew for each time.
    """
    found = {
        row.id: planned_minutes(row, network.policy, network.grain) for row in network.profiles
    }
    requests = {row.id: row for row in network.requests}
    site = network.sites[0].id
    runs = sorted((row for row in booked if row.plan_run_id), key=lambda row: row.plan_run_id or 0)
    names = {row.id: row.request for row in network.appointments}
    for row in runs:
        found[profile_at(requests[names[row.code]], site)] = row.minutes
    return found


def _unplaceable(rows: SiteRows) -> set[int]:
    """Appointments that the engine cannot hold at all: over, or outside hours and shifts."""
    horizon = rows.horizon
    opens = engine_site(rows.site, horizon).open
    crew = {row.pk: engine_technician(row, [], horizon) for row in rows.technicians}
    found = set()
    for row in rows.appointments:
        start = horizon.minute(row.day, row.minute)
        end = start + row.minutes
        there = crew.get(row.technician_id)
        shifts = there.shifts if there else ()
        inside = any(each.start <= start and end <= each.end for each in opens)
        staffed = any(each.start <= start and end <= each.end for each in shifts)
        if row.step == Step.HELD or not inside or not staffed:
            found.add(row.pk)
    return found


def _odd(network: Network, plan: Plan) -> set[str]:
    """Ids that a broken rule names."""
    return {
        thing
        for breach in verify_undrawn(network, plan)
        if breach.rule <= LAST_RULE
        for thing in breach.things
    }


def _name(rows: SiteRows, row: Appointment) -> str:
    return rows.demand.requests[row.request_id].reference
