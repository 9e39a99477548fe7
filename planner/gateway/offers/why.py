"""Why a request has no free time, and the nearest thing that would change it.

The same codes as a planning run's reasons, worked out from the desks that were asked.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import TYPE_CHECKING

from planner.engine import network as engine
from planner.engine.booking.reasons import FULL, HELD, NEVER_OPEN, NO_SITE, NOBODY_ABLE
from planner.engine.network import Window
from planner.engine.plan import Reason
from planner.engine.units import DAY
from planner.gateway.offers.desk import SiteDesk
from planner.gateway.offers.narrow import ANY, Narrow
from planner.gateway.record.places import ROLLED
from sites.clock import date_words, minute_words

if TYPE_CHECKING:
    from planner.gateway.offers.answer import Answer

NARROWED = "narrowed"
"""No time fits what was asked for on top of what the request needs; not a reason of a plan."""
WORDS = {ROLLED: "a scanner for rolled prints"}


def no_time(
    asked: list[tuple[SiteDesk, engine.Request]], answer: Answer, narrow: Narrow
) -> tuple[Reason, ...]:
    """The reason, after the first question that has no good answer."""
    if not asked:
        detail = "none of the sites in your view takes this request"
        return (Reason(NO_SITE, detail, "name a site that may take it, or ask who covers one"),)
    unable = list(_unable(asked))
    if len(unable) == len(asked):
        remedy = "name another site, or bring what is missing there"
        return (Reason(NOBODY_ABLE, "; ".join(unable), remedy),)
    where = ", ".join(desk.site.name for desk, _ in asked)
    until = date_words(answer.last)
    if not any(_ever(desk, one) for desk, one in asked):
        if any(one.available for _, one in asked):
            detail = f"no time up to {until} at {where} lies inside the times the person can come"
            remedy = "ask the person for further times, or add a site"
        else:
            detail = f"up to {until}, {where} is never open and staffed for the whole session"
            remedy = "open the site, roster a technician, or add a site"
        return (Reason(NEVER_OPEN, detail, remedy),)
    found = []
    if narrow != ANY:
        remedy = "drop the day, the part of day, the place or the skill"
        found.append(Reason(NARROWED, "no free time fits what you narrowed to", remedy))
    if answer.held is not None:
        held = answer.held
        day = f"{held.time.site.name} on {date_words(held.time.day)}"
        detail = f"{day} has room, but only inside its reserve for rework"
        found.append(Reason(HELD, detail, f"free {held.short} min of that day's reserve"))
    elif narrow == ANY:
        detail = f"every free time up to {until} at {where} is too short, or would break a promise"
        found.append(Reason(FULL, detail, _room(asked, answer)))
    return tuple(found)


def _room(asked: list[tuple[SiteDesk, engine.Request]], answer: Answer) -> str:
    """The nearest way to make room."""
    if answer.given:
        given = answer.given[0]
        when = f"{date_words(given.time.day)} {minute_words(given.time.told)}"
        return f"ask {given.other} to move, which frees {when} at {given.time.site.name}"
    desk, one = asked[0]
    need = desk.desk.search.need(one, one.sites[0]).minutes
    return f"put it on the waiting list, or add {need} min of station and technician"


def _unable(asked: list[tuple[SiteDesk, engine.Request]]) -> Iterator[str]:
    """For each site without a station or a technician that suits, what is missing."""
    for desk, one in asked:
        need = desk.desk.search.need(one, one.sites[0])
        network, name = desk.book.network, desk.site.name
        if not any(need.features <= set(row.features) for row in network.stations):
            yield f"no station at {name} offers {_listed(need.features)}"
            continue
        working = [row for row in network.technicians if row.shifts]
        if not working:
            yield f"no technician is rostered at {name} up to {date_words(desk.horizon.last_day)}"
        elif not any(need.skills <= set(row.skills) for row in working):
            yield f"no technician rostered at {name} has {_listed(need.skills)}"


def _listed(words: frozenset[str]) -> str:
    return ", ".join(sorted(WORDS.get(word, word) for word in words)) or "a place"


def _ever(desk: SiteDesk, one: engine.Request) -> bool:
    """Whether hours, a suitable shift and the person's times ever share a whole session."""
    need = desk.desk.search.need(one, one.sites[0])
    network = desk.book.network
    comes = one.available or (Window(max(0, one.release) * DAY, desk.horizon.end),)
    shifts = [
        shift
        for person in network.technicians
        if need.skills <= set(person.skills)
        for shift in person.shifts
    ]
    return any(
        min(each.end for each in three) - max(each.start for each in three) >= need.minutes
        for three in product(shifts, comes, network.sites[0].open)
    )
