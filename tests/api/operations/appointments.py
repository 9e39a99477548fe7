"""Rows of appointments."""

from __future__ import annotations

from tests.api.operations.row import ABROAD, DESK, HOUSE, PLACE, Row, booked, get, post

ROWS: dict[str, Row] = {
    "appointments_list": get("appointments/", query={"site": "site-1", "step": "booked"}),
    "appointment_read": get("appointments/{appointment}/", abroad=ABROAD, finds=booked("booked")),
    "appointment_book": post(
        "appointments/", DESK, status=201, abroad=400, body={"request": "free", **PLACE}
    ),
    "appointment_move": post(
        "appointments/{appointment}/move/",
        DESK,
        abroad=ABROAD,
        finds=booked("booked"),
        body={"why": "asked for another day", **PLACE},
        on="appointment_read",
    ),
    "appointment_cancel": post(
        "appointments/{appointment}/cancel/",
        DESK,
        abroad=ABROAD,
        finds=booked("booked"),
        body={"why": "asked for it"},
        on="appointment_read",
    ),
    "appointment_arrive": post(
        "appointments/{appointment}/arrive/",
        HOUSE,
        abroad=ABROAD,
        finds=booked("booked"),
        body={},
        on="appointment_read",
    ),
    "appointment_take_back": post(
        "appointments/{appointment}/take-back/",
        HOUSE,
        abroad=ABROAD,
        finds=booked("arrived"),
        body={},
        on="appointment_read",
    ),
    "appointment_missed": post(
        "appointments/{appointment}/missed/",
        HOUSE,
        abroad=ABROAD,
        finds=booked("unseen"),
        body={},
        on="appointment_read",
    ),
}
