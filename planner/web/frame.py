"""What stands on every page: the places, and who is signed in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest

from planner.web.access import sites_of
from sites.models import User


@dataclass(frozen=True, slots=True)
class Place:
    """A place of the frame: its URL name and its word."""

    url: str
    word: str


PLACES = (
    Place("requests", "Requests"),
    Place("days", "Days"),
    Place("care", "Care"),
    Place("capacity", "Capacity"),
    Place("set-up", "Set-up"),
)


def frame(request: HttpRequest) -> dict[str, Any]:
    """The places and the sites in view; nothing for somebody who is not signed in."""
    user = getattr(request, "user", None)
    if not isinstance(user, User) or request.path.startswith("/admin/"):
        return {}
    sites = sites_of(user)
    names = ", ".join(site.name for site in sites) if len(sites) < 3 else f"{len(sites)} sites"
    return {"places": PLACES, "in_view": names or "no site yet"}
