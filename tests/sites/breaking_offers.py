"""Ways to break the constraints of prices and the waiting list, and a row of each to break."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from sites.models import LeftOut, PlanRun, Proposal, Request, SitePrice, Waiting
from tests.sites.build import DAY, NOW, World

LATER = NOW + timedelta(hours=1)
CHANGES: dict[str, tuple[Any, dict[str, Any]]] = {
    "left_out_has_a_code": (LeftOut, {"code": ""}),
    "site_price_part_known": (SitePrice, {"part": "eve"}),
    "site_price_not_negative": (SitePrice, {"station_minute": -0.1}),
    "waiting_days_in_order": (Waiting, {"first_day": DAY, "last_day": date(2026, 3, 1)}),
    "waiting_part_known": (Waiting, {"part": "xx"}),
    "waiting_end_says_how": (Waiting, {"ended_at": LATER}),
    "proposal_span_is_a_span": (Proposal, {"minutes": 0}),
    "proposal_told_before_start": (Proposal, {"told_minute": 901}),
    "proposal_answer_is_whole": (Proposal, {"answer": "taken", "answered_at": LATER}),
    "proposal_p_wait_is_a_chance": (Proposal, {"p_wait": 1.5}),
}
"""Values that a constraint refuses in the newest row of a model."""
DOUBLES: dict[str, tuple[Any, dict[str, Any]]] = {
    "site_price_once": (SitePrice, {}),
    "waiting_once": (Waiting, {}),
    "proposal_one_open_each": (Proposal, {"starts_at": LATER, "ends_at": LATER + timedelta(1)}),
}
"""Rows that may not be there twice, with what else is different."""


def fill(here: World, request: Request) -> None:
    """A row of each."""
    SitePrice.objects.create(
        run=PlanRun.objects.latest("pk"),
        site=here.site,
        day=DAY,
        part="am",
        station_minute=0.1,
        technician_minute=0.2,
    )
    LeftOut.objects.create(
        request=request, run=PlanRun.objects.latest("pk"), code="full", detail="d", remedy="r"
    )
    waiting = Waiting.objects.create(request=request, since=NOW)
    Proposal.objects.create(
        waiting=waiting,
        station=here.stations[0],
        technician=here.technicians[0],
        told_minute=900,
        slack=3,
        made_at=NOW,
        day=DAY,
        minute=900,
        minutes=20,
        starts_at=NOW,
        ends_at=LATER,
    )


def proposed_twice(here: World) -> None:
    """The same time, put to somebody else too."""
    other = Waiting.objects.create(request=here.request("r-9"), since=NOW)
    row = Proposal.objects.latest("pk")
    row.pk, row.waiting = None, other
    row._state.adding = True
    row.save(force_insert=True)
