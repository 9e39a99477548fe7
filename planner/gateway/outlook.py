"""The capacity outlook: room by site and week against what falls due, with expected rework."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from planner.engine.sessions.planned import planned_minutes
from planner.gateway.record_values import policy_of, profile_of
from sites.models import Profile, ProgrammeVersion, Site
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
    ``rework_high`` from the interval of the return rate. ``short`` is what everything due by the
    end of this week asks for beyond all the room until then, with its low and high; 0: it fits.
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


def outlook(*, sites: Sequence[Site], today: date) -> Outlook:
    """The next `WEEKS` weeks from ``today`` on; sites from `sites_with_hours`.

    A need counts at its nearest site. Rework is expected `RETURN_WEEKS` weeks after a session, at
    the share of the last `HISTORY_DAYS` days, for sessions that are booked or due in the outlook;
    rework of sessions before it is in the record once it has come back.
    """
    since = today - timedelta(days=HISTORY_DAYS)
    returns = image_returns(first=since, last=today - timedelta(days=1))
    room = site_room(sites=sites, first=today, days=7 * WEEKS)
    needs = sessions_due(today=today, first=today, weeks=WEEKS)
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
    found: list[Week] = []
    sessions: list[int] = []
    asked, free = [0.0, 0.0, 0.0], 0
    for number in range(WEEKS):
        first = today + timedelta(weeks=number)
        days = [room[site.pk, first + timedelta(days=day)] for day in range(7)]
        mine = {need: n for need, n in needs.items() if need[:2] == (site.pk, number)}
        due_sessions = sum(mine.values())
        due = sum(n * minutes.get(need.profile, round(mean)) for need, n in mine.items())
        sessions.append(due_sessions + sum(day.sessions for day in days))
        before = sessions[number - RETURN_WEEKS] if number >= RETURN_WEEKS else 0
        rework = [rate * before * mean for rate in rates]
        free += sum(max(0, day.room - day.booked) for day in days)
        asked = [total + due + more for total, more in zip(asked, rework, strict=True)]
        short = [max(0.0, total - free) for total in asked]
        found.append(
            Week(
                first=first,
                room=sum(day.room for day in days),
                booked=sum(day.booked for day in days),
                due=due,
                due_sessions=due_sessions,
                rework=rework[0],
                rework_low=rework[1],
                rework_high=rework[2],
                short=short[0],
                short_low=short[1],
                short_high=short[2],
                staffed=any(day.technicians for day in days),
            )
        )
    return found


def minutes_by_profile(today: date) -> dict[int, int]:
    """The planned minutes of each kind of session, by the newest promises that have begun."""
    terms = ProgrammeVersion.objects.filter(starts_on__lte=today).order_by("-starts_on").first()
    terms = terms or ProgrammeVersion()
    policy = policy_of(terms)
    return {
        profile.pk: planned_minutes(profile_of(profile), policy, terms.grain_minutes)
        for profile in Profile.objects.prefetch_related("captures")
    }


def mean_minutes(room: dict[tuple[int, date], DayRoom], minutes: dict[int, int]) -> float:
    """Minutes of a session: of those booked in the outlook, else of the kinds that there are."""
    sessions = sum(day.sessions for day in room.values())
    if sessions:
        return sum(day.booked for day in room.values()) / sessions
    return sum(minutes.values()) / len(minutes) if minutes else 0.0
