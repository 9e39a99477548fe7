"""Rows of requests and their subjects."""

from __future__ import annotations

from tests.api.operations.row import ABROAD, COORDINATORS, Row, get, post
from tests.sites.build import DAY

ROWS: dict[str, Row] = {
    "requests_list": get("requests/", query={"standing": "booked", "site": "site-1"}),
    "request_read": get("requests/{reference}/", abroad=ABROAD, parts={"reference": "booked"}),
    "request_receive": post(
        "requests/",
        COORDINATORS,
        status=201,
        abroad=400,
        body={
            "reference": "new-1",
            "programme": "p-one",
            "profile": "full",
            "subject": {"reference": "s-new-1", "family_name": "Tavoren", "needs_access": True},
            "sites": ["site-1"],
            "received": f"{DAY}",
        },
    ),
    "request_close": post(
        "requests/{reference}/close/",
        COORDINATORS,
        abroad=ABROAD,
        parts={"reference": "free"},
        body={"why": "withdrawn"},
        on="request_read",
    ),
    "request_hold": post(
        "requests/{reference}/hold/",
        COORDINATORS,
        abroad=ABROAD,
        parts={"reference": "free"},
        body={"why": "is away", "until": "2026-03-20"},
        on="request_read",
    ),
    "request_release": post(
        "requests/{reference}/release/",
        COORDINATORS,
        abroad=ABROAD,
        parts={"reference": "held"},
        on="request_read",
    ),
    "requests_hold": post(
        "holds/", COORDINATORS, abroad=400, body={"requests": ["free", "booked"], "why": "is away"}
    ),
    "requests_release": post(
        "holds/release/", COORDINATORS, abroad=400, body={"requests": ["held", "free"]}
    ),
    "requests_sites": post(
        "request-sites/",
        COORDINATORS,
        abroad=400,
        body={"requests": ["free", "late"], "how": "only", "sites": ["site-1"]},
    ),
    "request_timeline": get(
        "requests/{reference}/timeline/", abroad=ABROAD, parts={"reference": "booked"}
    ),
    "request_person": get(
        "requests/{reference}/person/", abroad=ABROAD, parts={"reference": "booked"}
    ),
    "person_find": post("people/find/", COORDINATORS, body={"words": "s-booked"}),
}
