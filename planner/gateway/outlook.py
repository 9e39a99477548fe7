"""The capacity outlook: room by site and week against what falls due, with expected rework."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import QuerySet

from planner.engine.sessions.planned import planned_minutes
from planner.gateway.record.requests import engine_profile
from planner.gateway.record.terms import grain_of, latest, policy_of
from sites.models import Profile, ProgrammeVersion, Request, Response, Site
from sites.selectors.demand import Need, sessions_due
from sites.selectors.room import DayRoom, site_room
from sites.selectors.shares import Share
from sites.selectors.yields import image_returns

WEEKS = 8
RETURN_WEEKS = 3
"""From a session to its rework: every return adds 2 to 3 weeks (a state board's public page)."""

HISTORY_DAYS = 90
"""Days whose responses say how many sets come back; ours."""


@dataclass(frozen=True, slots=True)
class Week:
    """One site's week, in minutes unless said otherwise.

    ``room`` is what stations and technicians can hold; ``booked`` what appointments take of it;
    ``due`` sessions without a place that fall due (``due_sessions`` of them); ``rework`` what
    image returns of earlier sessions are expected to ask for, with ``rework_low`` and
    ``rework_high`` from the interval of the return rate. ``short`` is what must be done by the end
    of this week and cannot (`shortfall`), with its low and high; 0: it fits.
    ``staffed`` is False where no technician has a shift.
    """

    first: date
    room: int
    booked: int
    due: int
    due_sessions: int
    rework: float
    rework_low: float
    rework_high: float
    short: float
    short_low: float
    short_high: float
    staffed: bool

    @property
    def last(self) -> date:
        """The week's last day."""
        return self.first + timedelta(days=6)


@dataclass(frozen=True, slots=True)
class Line:
    """A site's weeks, and the first of them that is short."""

    site: Site
    weeks: list[Week]

    @property
    def short(self) -> Week | None:
        """The first week whose shortfall is above 0, None where everything fits."""
        return next((week for week in self.weeks if week.short > 0), None)


@dataclass(frozen=True, slots=True)
class Outlook:
    """The sites' lines, the return rate that rework was expected from, and a session's minutes."""

    lines: list[Line]
    returns: Share
    since: date
    session_minutes: float


def outlook(
    *,
    sites: Sequence[Site],
    today: date,
    requests: QuerySet[Request],
    responses: QuerySet[Response],
) -> Outlook:
    """The next `WEEKS` weeks from ``today`` on; sites from `sites_with_hours`.

    A need counts at its nearest site. Rework is expected `RETURN_WEEKS` weeks after a session, at
    the share of the last `HISTORY_DAYS` days, for sessions that are booked or due in the outlook,
    and has two weeks from then; rework of earlier sessions is in the record once it came back.
    """
    since = today - timedelta(days=HISTORY_DAYS)
    returns = image_returns(first=since, last=today - timedelta(days=1), responses=responses)
    room = site_room(sites=sites, first=today, days=7 * WEEKS)
    needs = sessions_due(today=today, first=today, weeks=WEEKS, requests=requests)
    minutes = minutes_by_profile(today)
    mean = mean_minutes(room, minutes)
    rates = (returns.value or 0.0, returns.low or 0.0, returns.high or 0.0)
    lines = [Line(site, weeks_of(site, today, room, needs, minutes, mean, rates)) for site in sites]
    return Outlook(lines, returns, since, mean)


def weeks_of(
    site: Site,
    today: date,
    room: dict[tuple[int, date], DayRoom],
    needs: dict[Need, int],
    minutes: dict[int, int],
    mean: float,
    rates: tuple[float, float, float],
) -> list[Week]:
    """The weeks of one site."""
    weeks = range(WEEKS)
    days = [
        [room[site.pk, today + timedelta(days=7 * week + day)] for day in range(7)]
        for week in weeks
    ]
    free = [sum(max(0, day.room - day.booked) for day in each) for each in days]
    mine = [(need, n) for need, n in needs.items() if need.site == site.pk]
    planned = [
        Work(need.released, need.week, n * minutes.get(need.profile, round(mean)))
        for need, n in mine
    ]
    due = [sum(n for need, n in mine if need.week == week) for week in weeks]
    held = [due[week] + sum(day.sessions for day in days[week]) for week in weeks]
    before = [0] * RETURN_WEEKS + held[: WEEKS - RETURN_WEEKS]
    rework = [[rate * sessions * mean for sessions in before] for rate in rates]
    short = [
        shortfall([*planned, *(Work(w, w + 1, each[w]) for w in weeks)], free) for each in rework
    ]
    return [
        Week(
            first=today + timedelta(weeks=week),
            room=sum(day.room for day in days[week]),
            booked=sum(day.booked for day in days[week]),
            due=round(sum(work.minutes for work in planned if work.last == week)),
            due_sessions=due[week],
            rework=rework[0][week],
            rework_low=rework[1][week],
            rework_high=rework[2][week],
            short=short[0][week],
            short_low=short[1][week],
            short_high=short[2][week],
            staffed=any(day.technicians for day in days[week]),
        )
        for week in weeks
    ]


@dataclass(frozen=True, slots=True)
class Work:
    """Minutes that can be done from week ``first`` on and must be done by the end of ``last``."""

    first: int
    last: int
    minutes: float


def shortfall(work: Sequence[Work], free: Sequence[float]) -> list[float]:
    """For each week, the minutes that must be done by its end and cannot.

    That is the most by which the work of any run of weeks that ends there, released in it and due
    in it, exceeds the free minutes of the run: 0 everywhere exactly where all of it fits, if a
    session may be split (the processor demand criterion; S. Baruah, L. Rosier, R. Howell,
    Real-Time Systems 2 (1990), from memory).
    """
    found = []
    for end in range(len(free)):
        most = 0.0
        for start in range(end + 1):
            asked = sum(each.minutes for each in work if each.first >= start and each.last <= end)
            most = max(most, asked - sum(free[start : end + 1]))
        found.append(most)
    return found


def minutes_by_profile(today: date) -> dict[int, int]:
    """The planned minutes of each kind of session, by the strictest promises in force."""
    rows = ProgrammeVersion.objects.order_by("programme", "starts_on")
    terms = latest(rows, today) or [ProgrammeVersion()]
    policy, grain = policy_of(terms), grain_of(terms)
    return {
        profile.pk: planned_minutes(engine_profile(profile), policy, grain)
        for profile in Profile.objects.prefetch_related("captures", "skills")
    }


def mean_minutes(room: dict[tuple[int, date], DayRoom], minutes: dict[int, int]) -> float:
    """Minutes of a session: of those booked in the outlook, else of the kinds that there are."""
    sessions = sum(day.sessions for day in room.values())
    if sessions:
        return sum(day.booked for day in room.values()) / sessions
    return sum(minutes.values()) / len(minutes) if minutes else 0.0
