"""Rows of sessions and what is recorded of them."""

from __future__ import annotations

from sites.models import Role
from tests.api.operations.row import ABROAD, Row, booked, get, post

FLOOR = (Role.TECHNICIAN, Role.SITE_LEAD, Role.ADMINISTRATOR)
RUNNING = booked("running")

ROWS: dict[str, Row] = {
    "sessions_list": get("sessions/", query={"site": "site-1", "open": "true"}),
    "session_read": get("appointments/{appointment}/session/", abroad=ABROAD, finds=RUNNING),
    "session_start": post(
        "appointments/{appointment}/start/",
        FLOOR,
        status=201,
        abroad=ABROAD,
        finds=booked("arrived"),
        body={"scanner": "sc-st-1"},
        on="appointment_read",
    ),
    "session_identity": post(
        "appointments/{appointment}/session/identity/",
        FLOOR,
        abroad=ABROAD,
        finds=RUNNING,
        on="session_read",
    ),
    "session_attempt": post(
        "appointments/{appointment}/session/attempts/",
        FLOOR,
        abroad=ABROAD,
        finds=RUNNING,
        body={
            "position": 2,
            "impression": 1,
            "kept": True,
            "algorithm": "nfiq2",
            "algorithm_version": "2.3",
            "score": 61,
            "seconds": 14.5,
        },
        on="session_read",
    ),
    "session_missing": post(
        "appointments/{appointment}/session/missing/",
        FLOOR,
        abroad=ABROAD,
        finds=RUNNING,
        body={"position": 4, "code": "UP", "review_on": "2026-03-20"},
        on="session_read",
    ),
    "session_override": post(
        "appointments/{appointment}/session/overrides/",
        FLOOR,
        abroad=ABROAD,
        finds=RUNNING,
        body={"position": 1, "kind": "quality", "reason": "best of three tries"},
        on="session_read",
    ),
    "session_over": post(
        "appointments/{appointment}/session/end/",
        FLOOR,
        abroad=ABROAD,
        finds=RUNNING,
        body={"how": "broken_off", "note": "came back another day"},
        on="session_read",
    ),
}
