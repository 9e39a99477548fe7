"""Who waits for a time, in the order in which a free one is put to them."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Any

from django.db.models import Prefetch, Q, QuerySet

from sites.models import Proposal, Request, Site, Waiting
from sites.selectors.slack import requests_slack
from sites.selectors.standing import Standing

MAY_WAIT = (Standing.TO_BOOK, Standing.DISPLACED, Standing.BOOKED)
"""Where a request stands that a free time is of use to."""


def waiting_in_order(
    *, today: date, sites: Collection[Site] | None = None
) -> list[tuple[Waiting, Any]]:
    """Who waits, with their requests: the least slack first, then who has waited longest.

    Slack is that of `requests_slack`. With ``sites`` only requests that one of them takes.
    Three queries, however many wait.
    """
    waits = Waiting.objects.filter(ended_at=None).select_related("site", "request")
    if sites is not None:
        waits = waits.filter(
            Q(request__at_sites__site__in=sites) | Q(request__at_sites__isnull=True)
        ).distinct()
    open_ones = Prefetch("proposals", open_proposals(), to_attr="open_ones")
    rows = list(waits.prefetch_related(open_ones))
    requests = requests_slack(today=today).filter(pk__in=[row.request_id for row in rows])
    known = {row.pk: row for row in requests.select_related("terms__programme", "profile")}
    found = [(row, known[row.request_id]) for row in rows]
    return sorted(found, key=lambda pair: (pair[1].slack, pair[0].since, pair[0].pk))


def open_proposals() -> QuerySet[Proposal]:
    """What was proposed and nobody answered."""
    return Proposal.objects.filter(answer="").select_related(
        "station__site", "technician", "waiting__request"
    )


def waiting_of(*, request: Request) -> Waiting | None:
    """A request's own place on the list."""
    return Waiting.objects.filter(request=request, ended_at=None).select_related("site").first()
