"""Rows of free times, and of taking one."""

from __future__ import annotations

from tests.api.operations.row import ABROAD, DESK, Row, get, post

TOMORROW = "2026-03-03"
FREE = {"reference": "free"}

ROWS: dict[str, Row] = {
    "offers_read": get(
        "requests/{reference}/offers/",
        DESK,
        abroad=ABROAD,
        parts=FREE,
        query={"first": TOMORROW, "last": TOMORROW, "part": "am", "site": "site-1"},
    ),
    "offer_take": post(
        "requests/{reference}/take/",
        DESK,
        abroad=ABROAD,
        parts=FREE,
        body={"site": "site-1", "day": TOMORROW, "told": "10:00"},
        on="request_read",
    ),
    "request_not_before": post(
        "requests/{reference}/not-before/",
        DESK,
        abroad=ABROAD,
        parts=FREE,
        body={"day": "2026-03-10"},
        on="request_read",
    ),
}
