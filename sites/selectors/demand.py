"""What falls due: open requests that still need a session, by site and week."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from typing import NamedTuple

from django.db.models import OuterRef, QuerySet, Subquery

from sites.models import Request, RequestSite
from sites.selectors.standing import Standing, requests_standing

UNPLACED = (Standing.TO_BOOK, Standing.ON_HOLD, Standing.DISPLACED, Standing.RETURNED_IMAGE)


class Need(NamedTuple):
    """Sessions are counted by site, week of release and of due date (0: the first), and profile."""

    site: int
    released: int
    week: int
    profile: int


def nearest_site() -> Subquery:
    """The key of the site with the least travel among those that can take a request."""
    rows = RequestSite.objects.filter(request=OuterRef("pk")).order_by("travel", "pk")
    return Subquery(rows.values("site_id")[:1])


def sessions_due(
    *, today: date, first: date, weeks: int, requests: QuerySet[Request]
) -> Counter[Need]:
    """Sessions without a place, by the week they fall due in, from the week of ``first`` on.

    Counted over ``requests``. Past due counts in the first week; due after the last week is left
    out. A request that several sites could take counts at the one with the least travel. One query.
    """
    rows = (
        requests_standing(today=today, requests=requests, many=True)
        .filter(standing__in=UNPLACED, due__lt=first + timedelta(weeks=weeks))
        .annotate(near=nearest_site())
        .order_by()
        .values_list("near", "release", "due", "profile_id")
    )
    found: Counter[Need] = Counter()
    for site, release, due, profile in rows:
        if site is not None:
            since, until = (max(0, (day - first).days // 7) for day in (release, due))
            found[Need(site, since, until, profile)] += 1
    return found
