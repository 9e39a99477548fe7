"""What stands on every page: the places, and who is signed in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest

from sites.access import may, sites_visible
from sites.models import User


@dataclass(frozen=True, slots=True)
class Place:
    """A place of the frame: its URL name, its word, and the rule of its page."""

    url: str
    word: str
    rule: str


PLACES = (
    Place("requests", "Requests", "requests.see"),
    Place("days", "Days", "days.see"),
    Place("care", "Care", "care.see"),
    Place("capacity", "Capacity", "capacity.see"),
    Place("set-up", "Set-up", "setup.see"),
)


def frame(request: HttpRequest) -> dict[str, Any]:
    """The places and the sites in view; nothing for somebody who is not signed in."""
    user = getattr(request, "user", None)
    if not isinstance(user, User) or request.path.startswith("/admin/"):
        return {}
    sites = list(sites_visible(user))
    names = ", ".join(site.name for site in sites) if len(sites) < 3 else f"{len(sites)} sites"
    places = [each for each in PLACES if may(user, each.rule)]
    return {"places": places, "in_view": names or "no site yet"}
