"""One request asked at all of its sites at once, ranked together."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from datetime import date, datetime

from planner.engine import network as engine
from planner.engine.booking.offers import Offers
from planner.gateway.offers.answer import (
    Answer,
    Standby,
    given_of,
    held_of,
    time_of,
)
from planner.gateway.offers.desk import Checked, SiteDesk, desks, horizon_of
from planner.gateway.offers.narrow import ANY, Narrow, narrowed
from planner.gateway.offers.why import no_time
from planner.gateway.record.demand import Demand, Wanted, demand_of
from planner.gateway.record.requests import engine_request
from sites.clock import wall
from sites.errors import BadValue
from sites.models import Request, Site, Step
from sites.selectors.holds import hold_of
from sites.selectors.travel import travel_minutes

TOP = 10
NEAREST = 8
"""Sites that are asked at once; ours. Narrowing to a place asks at any other."""
UNKNOWN = 24 * 60
"""Where nobody knows how far a site is, it comes after those that are known."""
SPREAD = (3, 30)
"""At most three times in a part of a site's day, half an hour apart; of one day all are told."""
MOST = 5
"""Ways to make room that are told at most."""

Found = tuple[SiteDesk, Offers, float]


def ask(
    request: Request,
    *,
    now: datetime,
    sites: Collection[Site],
    narrow: Narrow = ANY,
    top: int = TOP,
    checked: Checked | None = None,
) -> Answer:
    """The best free times at those of ``sites`` that the request accepts.

    ``sites`` are those that whoever asks may book at. A request that is booked keeps its place
    until it takes another, and that place is among the times. Nothing is written. ``checked`` as in
    `desks`.

    Raises FileRefused where a site's rows cannot be planned with, and BadValue for a request that
    cannot be booked at all (closed, or its session has begun).
    """
    demand = demand_of(Request.objects.filter(pk=request.pk))
    wanted = demand.requests[request.pk]
    refuse_settled(request, demand, now.date())
    places = places_of(wanted, sites, narrow.site, demand)
    today = min((wall(site.timezone, now)[0] for site in places), default=now.date())
    first = max(today, wanted.release, narrow.first or date.min)
    horizon = horizon_of(today, first)
    loaded = desks(places, horizon, checked)
    found: list[Found] = []
    asked: list[tuple[SiteDesk, engine.Request]] = []
    for where in loaded:
        one = engine_request(wanted, replace(where.book.around, demand=demand))
        if one is None:
            continue
        asked.append((where, one))
        mine = narrowed(one, where, narrow, now)
        if mine is not None:
            with where.lock:
                offers = where.desk.offers(
                    mine, top, by_hand=True, spread=None if one_day(narrow) else SPREAD
                )
            found.append((where, offers, leaving(where, demand, request)))
    answer = merged(found, top)
    answer = replace(
        answer, first=first, last=horizon.last_day, sites=tuple(places), skills=skills_at(loaded)
    )
    return answer if answer.times else replace(answer, reasons=no_time(asked, answer, narrow))


def refuse_settled(request: Request, demand: Demand, today: date) -> None:
    """Raise BadValue where there is nothing to find a time for."""
    if request.closed_at is not None:
        raise BadValue(request.reference, "is closed", "find times for an open request")
    hold = hold_of(request=request, today=today)
    if hold is not None:
        raise BadValue(request.reference, f"is on hold ({hold.why})", "release it first")
    one = demand.appointments.get(request.pk)
    if one is not None and one.step in {Step.ARRIVED, Step.UNDERWAY}:
        here = Step(one.step).label.lower()
        raise BadValue(
            request.reference, f"is {here}", "end the session, or take the arrival back, first"
        )


def places_of(wanted: Wanted, sites: Collection[Site], only: str, demand: Demand) -> list[Site]:
    """The sites to ask at, the nearest first, at most `NEAREST`; ``only`` names one of any.

    A request that names no site could go anywhere; its travel is then estimated.
    """
    travel = {site: minutes for site, minutes, _ in wanted.sites}
    if not travel:
        area = None if wanted.area is None else demand.areas[wanted.area]
        for site in sites:
            far = None
            if area is not None:
                far = travel_minutes(area=area, site=site, given=demand.given)
            travel[site.pk] = UNKNOWN if far is None else far
    found = [site for site in sites if site.pk in travel and (not only or site.code == only)]
    return sorted(found, key=lambda site: (travel[site.pk], site.code))[:NEAREST]


def leaving(where: SiteDesk, demand: Demand, request: Request) -> float:
    """What leaving its present place costs, where this desk does not know of the place."""
    one = demand.appointments.get(request.pk)
    if one is None or one.step != Step.BOOKED or one.fixed:
        return 0.0
    known = any(row.request == request.reference for row in where.book.network.appointments)
    return 0.0 if known else where.book.network.policy.cost.move


def merged(found: list[Found], top: int) -> Answer:
    """The best of all sites; ways to make room only where the times are few or all late."""
    times = sorted(
        (time_of(where, offer, moves) for where, offers, moves in found for offer in offers.offers),
        key=lambda time: time.rank,
    )[:top]
    empty = Answer(tuple(times), (), None, (), date.min, date.max, (), ())
    if len(times) == top and not all(time.late for time in times):
        return empty
    given = sorted(
        (
            given_of(where, each, moves)
            for where, offers, moves in found
            for each in offers.displaces
        ),
        key=lambda each: (each.cost, each.time.rank),
    )
    held = sorted(
        (
            held_of(where, offers.reserve, moves)
            for where, offers, moves in found
            if offers.reserve is not None
        ),
        key=lambda each: each.time.rank,
    )
    standby = sorted(
        (
            Standby(where.site, where.horizon.calendar(each.day), each.places, each.chance)
            for where, offers, _ in found
            for each in offers.waiting_list
        ),
        key=lambda each: (each.day, each.site.code),
    )
    return replace(
        empty,
        given=tuple(given[:MOST]),
        held=held[0] if held else None,
        standby=tuple(standby[:MOST]),
    )


def one_day(narrow: Narrow) -> bool:
    """Whether a caller asked for one day, of which every time is of interest."""
    return narrow.first is not None and narrow.first == narrow.last


def skills_at(loaded: list[SiteDesk]) -> tuple[str, ...]:
    """What technicians there hold, to narrow by."""
    return tuple(
        sorted(
            {
                skill
                for where in loaded
                for person in where.book.network.technicians
                for skill in person.skills
            }
        )
    )
