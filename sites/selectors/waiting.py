"""Who waits for a time, in the order in which a free one is put to them."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db.models import Prefetch, QuerySet

from sites.models import Proposal, Request, Waiting
from sites.selectors.slack import requests_slack
from sites.selectors.standing import Standing

MAY_WAIT = (Standing.TO_BOOK, Standing.DISPLACED, Standing.BOOKED)
"""Where a request stands that a free time is of use to."""


def waiting_in_order(*, today: date, requests: QuerySet[Request]) -> list[tuple[Waiting, Any]]:
    """Who waits, with their requests: the least slack first, then who has waited longest.

    Slack is that of `requests_slack`. Three queries, however many wait.
    """
    waits = Waiting.objects.filter(ended_at=None, request__in=requests.values("pk"))
    open_ones = Prefetch("proposals", open_proposals(), to_attr="open_ones")
    rows = list(waits.select_related("site", "request").prefetch_related(open_ones))
    waiting = Request.objects.filter(pk__in=[row.request_id for row in rows])
    slack = requests_slack(today=today, requests=waiting)
    known = {row.pk: row for row in slack.select_related("terms__programme", "profile")}
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
