"""What a run is asked to plan: which sites, and which of the requests in somebody's view."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import date
from enum import StrEnum

from planner.gateway.record.demand import TO_SERVE
from sites.access import requests_visible, sees_everywhere, sites_visible
from sites.models import User
from sites.selectors.standing import requests_standing

LONGEST = 42
"""Days of a run that people ask for."""
USUAL_SECONDS = 60
LONGEST_SECONDS = 3600


class Which(StrEnum):
    """Which requests a run plans."""

    ALL = "all"
    REWORK = "rework"
    DUE = "due"
    LISTED = "listed"


def sites_asked(user: User, chosen: Collection[str]) -> list[str] | None:
    """Codes of the sites to plan; None for all of them, where somebody's view is everything."""
    if chosen or sees_everywhere(user):
        return list(chosen) or None
    return list(sites_visible(user).values_list("code", flat=True))


def requests_asked(
    user: User,
    which: Which,
    *,
    first_day: date,
    due: date | None = None,
    listed: Iterable[str] = (),
) -> list[str] | None:
    """References to plan, in order; None for all that need a session.

    ``due`` is the last due date that counts where `which` is DUE, ``listed`` are the references
    where it is LISTED: see `unknown_requests`.
    """
    if which == Which.ALL:
        return None
    if which == Which.LISTED:
        return sorted(set(listed))
    rows = requests_standing(today=first_day, requests=requests_visible(user)).filter(
        standing__in=TO_SERVE
    )
    rows = rows.filter(rework=True) if which == Which.REWORK else rows.filter(due__lte=due)
    return list(rows.order_by("reference").values_list("reference", flat=True))


def unknown_requests(user: User, names: Collection[str]) -> list[str]:
    """Those of some references that are not in somebody's view, in order."""
    rows = requests_visible(user).filter(reference__in=names).order_by()
    return sorted(set(names) - set(rows.values_list("reference", flat=True)))
