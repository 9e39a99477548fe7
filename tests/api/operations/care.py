"""Rows of scanner care and downtimes."""

from __future__ import annotations

from sites.models import Role
from tests.api.operations.row import ABROAD, DESK, Row, get, post

ROWS: dict[str, Row] = {
    "care_list": get("care/", query={"site": "site-1", "open": "true"}),
    "care_read": get("care/{care}/", abroad=ABROAD, parts={"care": "clean-1"}),
    "care_set": post(
        "care/",
        (*DESK, Role.MANAGER),
        status=201,
        abroad=400,
        body={
            "station": "st-1",
            "day": "2026-03-05",
            "time": "09:00",
            "minutes": 20,
            "kind": "calibration",
        },
    ),
    "care_end": post(
        "care/{care}/close/",
        (Role.TECHNICIAN, Role.SITE_LEAD, Role.ADMINISTRATOR),
        abroad=ABROAD,
        parts={"care": "clean-1"},
        body={"outcome": "done"},
        on="care_read",
    ),
    "downtimes_list": get("downtimes/", query={"station": "st-2"}),
    "downtime_add": post(
        "downtimes/",
        (*DESK, Role.MANAGER),
        status=201,
        abroad=400,
        body={
            "station": "st-1",
            "day": "2026-03-05",
            "time": "09:00",
            "minutes": 60,
            "reason": "lamp",
        },
    ),
}
