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
        body={"reference": "back-told-2", "release": "2026-03-09", "sites": ["site-1"]},
        on="response_read",
    ),
    "responses_import": post(
        "responses/import/",
        COORDINATORS,
        abroad=400,
        body={"responses": [{"control_number": "c-sent", "kind": "data", "day": "2026-02-25"}]},
    ),
    "response_advice": get(
        "responses/{number}/advice/", OFFICE, abroad=ABROAD, finds=answered("back-told")
    ),
    "response_sent_again": post(
        "responses/{number}/sent-again/",
        COORDINATORS,
        status=201,
        abroad=ABROAD,
        finds=answered("back-data"),
        body={"control_number": "c-back-data-2"},
        on="response_read",
    ),
    "returns_list": get("returns/", OFFICE, query={"step": "contact", "age": "2-5"}),
    "returns_ages": get("returns/ages/", OFFICE),
    "returns_unsent": get("returns/unsent/", OFFICE),
    "returns_read": post(
        "returns/read/", COORDINATORS, abroad=400, body={"control_numbers": ["c-back-unread"]}
    ),
    "exceptions_list": get("exceptions/", OFFICE, query={"open": "true"}),
    "exception_read": get(
        "exceptions/{reference}/", OFFICE, abroad=ABROAD, parts={"reference": "back-read"}
    ),
    "exception_ask": post(
        "exceptions/{reference}/ask/",
        COORDINATORS,
        abroad=ABROAD,
        parts={"reference": "back-read"},
        body={},
        on="exception_read",
    ),
}
