"""Wrong passwords are counted by name and by address; either can make somebody wait."""

from __future__ import annotations

from typing import Any

from axes.handlers.database import AxesDatabaseHandler
from django.http import HttpRequest

ADDRESS_SHARE = 5
"""Wrong passwords from one address that count as one of a name: an office shares an address."""


class Throttle(AxesDatabaseHandler):  # type: ignore[misc] # the library has no annotations
    """The counts in the database, so that all servers share them."""

    def get_failures(self, request: HttpRequest, credentials: dict[str, Any] | None = None) -> int:
        """The larger of both counts, in wrong passwords of a name."""
        by_name, by_address = (
            sum(rows.values_list("failures_since_start", flat=True))
            for rows in self.get_user_attempts(request, credentials)
        )
        return int(max(by_name, by_address // ADDRESS_SHARE))

    def reset_user_attempts(
        self, request: HttpRequest, credentials: dict[str, Any] | None = None
    ) -> int:
        """Forget those of the name that signed in, and not those of its neighbours."""
        name = (credentials or {}).get("username")
        return int(self.reset_attempts(username=name)) if name else 0
