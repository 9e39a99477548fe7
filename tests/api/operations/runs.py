"""Rows of planning runs and what they propose."""

from __future__ import annotations

from sites.models import Role
from tests.api.operations.row import ABROAD, DESK, OFFICE, Row, get, post
from tests.web.planned import PLANNING, READY

PLANNERS = (*DESK, Role.MANAGER)
OF_READY = {"run": f"{READY}"}

ROWS: dict[str, Row] = {
    "runs_list": get("runs/", OFFICE, query={"state": "ready", "site": "site-1"}),
    "run_read": get("runs/{run}/", OFFICE, abroad=ABROAD, parts={"run": f"{PLANNING}"}),
    "run_ask": post(
        "runs/",
        PLANNERS,
        status=201,
        abroad=400,
        body={
            "first_day": "2026-03-03",
            "days": 5,
            "sites": ["site-1"],
            "which": "due",
            "due": "2026-12-31",
            "seconds": 30,
        },
    ),
    "run_cancel": post(
        "runs/{run}/cancel/",
        PLANNERS,
        abroad=ABROAD,
        parts={"run": f"{PLANNING}"},
        on="run_read",
    ),
    "run_plan": get(
        "runs/{run}/plan/", OFFICE, abroad=ABROAD, parts=OF_READY, query={"beside": "6"}
    ),
    "run_lines": get(
        "runs/{run}/lines/", OFFICE, abroad=ABROAD, parts=OF_READY, query={"kind": "new"}
    ),
    "run_meanwhile": get("runs/{run}/meanwhile/", OFFICE, abroad=ABROAD, parts=OF_READY),
    "run_accept": post(
        "runs/{run}/accept/",
        DESK,
        abroad=ABROAD,
        parts=OF_READY,
        body={"without": ["free"]},
        on="run_read",
    ),
    "run_put_aside": post(
        "runs/{run}/put-aside/", DESK, abroad=ABROAD, parts=OF_READY, on="run_read"
    ),
}
