"""What the pages take for the present: the same as the API."""

from __future__ import annotations

from planner.gateway.present import now, today, today_at

__all__ = ["now", "today", "today_at"]
