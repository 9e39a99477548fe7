"""Rows of submissions and responses."""

from __future__ import annotations

from tests.api.operations.row import ABROAD, COORDINATORS, OFFICE, Row, answered, get, post

ROWS: dict[str, Row] = {
    "submissions_list": get("submissions/", OFFICE, query={"answered": "false"}),
    "responses_list": get("responses/", OFFICE, query={"kind": "image", "read": "false"}),
    "response_read": get("responses/{number}/", OFFICE, abroad=ABROAD, finds=answered("back-told")),
    "response_register": post(
        "responses/",
        COORDINATORS,
        status=201,
        abroad=400,
        body={"control_number": "c-sent", "kind": "image"},
    ),
    "response_seen": post(
        "responses/{number}/read/",
        COORDINATORS,
        abroad=ABROAD,
        finds=answered("back-unread"),
        on="response_read",
    ),
    "response_contacted": post(
        "responses/{number}/contacted/",
        COORDINATORS,
        status=200,
        abroad=ABROAD,
        finds=answered("back-read"),
        on="response_read",
    ),
    "response_rework": post(
        "responses/{number}/rework/",
        COORDINATORS,
        status=201,
        abroad=ABROAD,
        finds=answered("back-told"),
        body={"reference": "back-told-2"},
        on="response_read",
    ),
}
