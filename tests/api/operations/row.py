"""What a row says of an operation, who the rows are about, and where they find what exists."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from sites.models import Appointment, Response, Role, User
from sites.services.api_tokens import api_token_make
from tests.sites.build import World

EVERYBODY = tuple(Role)
DESK = (Role.COORDINATOR, Role.SITE_LEAD, Role.ADMINISTRATOR)
HOUSE = (*DESK, Role.TECHNICIAN)
OFFICE = (*DESK, Role.MANAGER, Role.AUDITOR)
COORDINATORS = (Role.COORDINATOR, Role.ADMINISTRATOR)
ABROAD = 404
"""What a colleague of another site is answered for a thing of this one."""

PLACE = {
    "station": "st-1",
    "technician": "t-1",
    "day": "2026-03-04",
    "time": "09:00",
    "minutes": 20,
}


@dataclass(frozen=True)
class Row:
    """A call that is done: parts of the address, query, body; and what it is answered with.

    ``roles`` may do it, others are answered 403. ``abroad`` is what a colleague gets who may do it
    but covers another site. ``on`` is the name of the operation whose ETag it needs.
    """

    method: str
    path: str
    roles: tuple[Role, ...] = EVERYBODY
    status: int = 200
    abroad: int = 200
    parts: dict[str, str] = field(default_factory=dict)
    query: dict[str, str] = field(default_factory=dict)
    body: Any = None
    on: str = ""
    finds: Callable[[World, User], dict[str, str]] | None = None
    session: bool = False

    def address(self, here: World, user: User) -> str:
        """The address below the API's, for a person."""
        parts = self.parts | (self.finds(here, user) if self.finds else {})
        return self.path.format(**parts)


def booked(name: str) -> Callable[[World, User], dict[str, str]]:
    """The appointment of a request."""

    def find(_: World, __: User) -> dict[str, str]:
        return {"appointment": Appointment.objects.get(request__reference=name).code}

    return find


def answered(name: str) -> Callable[[World, User], dict[str, str]]:
    """The response to a request's set."""

    def find(_: World, __: User) -> dict[str, str]:
        return {"number": str(Response.objects.get(submission__request__reference=name).pk)}

    return find


def own_token(_: World, user: User) -> dict[str, str]:
    """A token of whoever calls."""
    return {"token": api_token_make(owner=user, name="spare", days=1)[0].code}


def get(path: str, roles: tuple[Role, ...] = EVERYBODY, **more: Any) -> Row:
    """A reading operation."""
    return Row("GET", path, roles, **more)


def post(path: str, roles: tuple[Role, ...], **more: Any) -> Row:
    """A doing operation."""
    return Row("POST", path, roles, **more)
