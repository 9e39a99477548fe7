"""Rows of the waiting list and what is put to who waits."""

from __future__ import annotations

from sites.models import Proposal, User
from tests.api.operations.row import ABROAD, DESK, OFFICE, Row, get, post
from tests.sites.build import World

WAITS = {"reference": "waits"}


def put(_: World, __: User) -> dict[str, str]:
    """The time that is put to the request that waits."""
    return {"proposal": f"{Proposal.objects.get(waiting__request__reference='waits').pk}"}


ROWS: dict[str, Row] = {
    "waiting_list": get("waiting/", OFFICE, query={"proposed": "true"}),
    "waiting_serve": post("waiting/serve/", DESK),
    "waiting_join": post(
        "requests/{reference}/wait/",
        DESK,
        status=201,
        abroad=ABROAD,
        parts={"reference": "free"},
        body={"site": "site-1", "last_day": "2026-03-12", "part": "am", "hours_ahead": 4},
        on="request_read",
    ),
    "waiting_read": get("requests/{reference}/waiting/", OFFICE, abroad=ABROAD, parts=WAITS),
    "waiting_change": post(
        "requests/{reference}/waiting/change/",
        DESK,
        abroad=ABROAD,
        parts=WAITS,
        body={"part": "pm"},
        on="waiting_read",
    ),
    "waiting_leave": post(
        "requests/{reference}/waiting/leave/",
        DESK,
        abroad=ABROAD,
        parts=WAITS,
        on="waiting_read",
    ),
    "proposals_list": get("proposals/", OFFICE, query={"open": "true", "request": "waits"}),
    "proposal_read": get("proposals/{proposal}/", OFFICE, abroad=ABROAD, finds=put),
    "proposal_accept": post(
        "proposals/{proposal}/accept/", DESK, abroad=ABROAD, finds=put, on="proposal_read"
    ),
    "proposal_decline": post(
        "proposals/{proposal}/decline/", DESK, abroad=ABROAD, finds=put, on="proposal_read"
    ),
}
