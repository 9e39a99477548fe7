"""What can be done with many requests at once, and of each that cannot be done with, why.

The page that asks and the service that writes judge by the same functions. A `Verdict` holds what
it was judged on, so that the service can tell whether that still is so when it writes.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from sites.models import Appointment, Hold, Request, RequestSite, Site, Waiting
from sites.selectors.holds import in_force
from sites.selectors.parts import parts
from sites.selectors.slack import PLACED
from sites.selectors.standing import Standing, requests_standing

CAN_WAIT = (Standing.TO_BOOK, Standing.DISPLACED)
"""Where a request stands that can be put on hold."""
GOES_SOMEWHERE = (
    Standing.TO_BOOK,
    Standing.DISPLACED,
    Standing.ON_HOLD,
    Standing.EXPIRED,
    Standing.BOOKED,
    Standing.RETURNED_IMAGE,
)
"""Where a request stands whose sites still matter: somebody has to come, and has not yet."""


class How(StrEnum):
    """How sites are changed."""

    ADD = "add"
    ONLY = "only"
    TAKE = "take"


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whether it can be done with a request: ``why`` not, empty where it can; ``seen``: what is."""

    seen: str
    why: str = ""


def judge_hold(*, requests: Iterable[Request], today: date) -> dict[int, Verdict]:
    """Which of them can be put on hold: whatever waits for a time. By key."""
    return {
        key: Verdict(stand, "" if stand in CAN_WAIT else stands_at(stand))
        for key, stand in standings(requests, today).items()
    }


def judge_release(*, requests: Iterable[Request], today: date) -> dict[int, Verdict]:
    """Which of them are on hold. By key."""
    rows = [row.pk for row in requests]
    held: dict[int, int] = {}
    for part in parts(rows):
        found = Hold.objects.filter(in_force(today), request__in=part)
        held |= dict(found.values_list("request_id", "pk"))
    return {
        key: Verdict(f"hold {held[key]}") if key in held else Verdict("", "is not on hold")
        for key in rows
    }


def judge_sites(
    *,
    requests: Iterable[Request],
    today: date,
    how: How,
    sites: Collection[Site],
    within: Collection[Site],
) -> dict[int, tuple[Verdict, frozenset[int]]]:
    """Which of them can go to other sites from now on, and to which then. By key.

    Only sites ``within`` are given or taken; a request keeps those that lie outside. Nobody is left
    without a site, and nobody loses the one where they are booked or wait for a time.
    """
    rows = list(requests)
    stands = standings(rows, today)
    names = {site.pk: site.name for site in (*sites, *within)}
    found = {}
    for part in parts([row.pk for row in rows]):
        named = {key: set[int]() for key in part}
        for key, site in RequestSite.objects.filter(request__in=part).values_list(
            "request_id", "site_id"
        ):
            named[key].add(site)
        placed = Appointment.objects.filter(request__in=part, step__in=PLACED)
        booked = dict(placed.values_list("request_id", "station__site_id"))
        waits = Waiting.objects.filter(request__in=part, ended_at=None, site__isnull=False)
        waiting = dict(waits.values_list("request_id", "site_id"))
        for key in part:
            then = sites_then(named[key], how, sites, within)
            gone = named[key] - then
            why = ""
            if stands[key] not in GOES_SOMEWHERE:
                why = stands_at(stands[key])
            elif then == named[key]:
                why = "goes to these sites already"
            elif not then:
                why = "would have no site left"
            elif booked.get(key) in gone:
                why = f"is booked at {names[booked[key]]}: move or cancel that first"
            elif waiting.get(key) in gone:
                why = f"waits for a time at {names[waiting[key]]}: change that first"
            now = (stands[key], sorted(named[key]), booked.get(key), waiting.get(key))
            found[key] = Verdict(f"{now} {sorted(then)}", why), frozenset(then)
    return found


def sites_then(
    now: set[int], how: How, sites: Collection[Site], within: Collection[Site]
) -> set[int]:
    """The sites that a request goes to afterwards."""
    open_ = {site.pk for site in within}
    chosen = {site.pk for site in sites} & open_
    if how is How.ADD:
        return now | chosen
    return now - chosen if how is How.TAKE else (now - open_) | chosen


def stands_at(stand: Standing) -> str:
    """A reason: where it stands."""
    return f"stands at “{stand.label}”"


def standings(requests: Iterable[Request], today: date) -> dict[int, Standing]:
    """Where requests stand now, by key."""
    found: dict[int, Standing] = {}
    for part in parts([row.pk for row in requests]):
        rows = requests_standing(today=today, requests=Request.objects.filter(pk__in=part))
        found |= {pk: Standing(text) for pk, text in rows.values_list("pk", "standing")}
    return found
