"""Every operation: how to call it so that it is done, and what each person is answered.

The row is asked for by `test_who.py`, which fails where an operation has none, and its call feeds
`test_schemathesis.py` with what really exists.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from sites.models import Appointment, Response, Role, User
from sites.services.api_tokens import api_token_make
from tests.sites.build import DAY, World

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


ROWS: dict[str, Row] = {
    "schema_read": get("schema/"),
    "own_read": get("me/"),
    "tokens_list": get("tokens/"),
    "token_make": post(
        "tokens/", EVERYBODY, status=201, abroad=201, body={"name": "x", "days": 9}, session=True
    ),
    "token_revoke": Row("DELETE", "tokens/{token}/", EVERYBODY, 204, abroad=204, finds=own_token),
    "problems_read": get("problems/{kind}/", parts={"kind": "slot_taken"}),
    "sites_list": get("sites/"),
    "site_read": get("sites/{site}/", abroad=ABROAD, parts={"site": "site-1"}),
    "day_read": get(
        "sites/{site}/days/{day}/", abroad=ABROAD, parts={"site": "site-1", "day": f"{DAY}"}
    ),
    "stations_list": get("stations/", query={"site": "site-1", "in_use": "true"}),
    "station_read": get("stations/{station}/", abroad=ABROAD, parts={"station": "st-1"}),
    "scanners_list": get("scanners/"),
    "scanner_read": get("scanners/{scanner}/", abroad=ABROAD, parts={"scanner": "sc-st-1"}),
    "technicians_list": get("technicians/", query={"home": "site-1"}),
    "technician_read": get("technicians/{technician}/", abroad=ABROAD, parts={"technician": "t-1"}),
    "programmes_list": get("programmes/"),
    "programme_read": get("programmes/{programme}/", parts={"programme": "p-one"}),
    "profiles_list": get("profiles/"),
    "profile_read": get("profiles/{profile}/", parts={"profile": "full"}),
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
    "request_timeline": get(
        "requests/{reference}/timeline/", abroad=ABROAD, parts={"reference": "booked"}
    ),
    "request_person": get(
        "requests/{reference}/person/", abroad=ABROAD, parts={"reference": "booked"}
    ),
    "person_find": post("people/find/", COORDINATORS, body={"words": "s-booked"}),
    "appointments_list": get("appointments/", query={"site": "site-1", "step": "booked"}),
    "appointment_read": get("appointments/{appointment}/", abroad=ABROAD, finds=booked("booked")),
    "appointment_book": post(
        "appointments/", DESK, status=201, abroad=400, body={"request": "free", **PLACE}
    ),
    "appointment_move": post(
        "appointments/{appointment}/move/",
        DESK,
        abroad=ABROAD,
        finds=booked("booked"),
        body={"why": "asked for another day", **PLACE},
        on="appointment_read",
    ),
    "appointment_cancel": post(
        "appointments/{appointment}/cancel/",
        DESK,
        abroad=ABROAD,
        finds=booked("booked"),
        body={"why": "asked for it"},
        on="appointment_read",
    ),
    "appointment_arrive": post(
        "appointments/{appointment}/arrive/",
        HOUSE,
        abroad=ABROAD,
        finds=booked("booked"),
        body={},
        on="appointment_read",
    ),
    "appointment_take_back": post(
        "appointments/{appointment}/take-back/",
        HOUSE,
        abroad=ABROAD,
        finds=booked("arrived"),
        body={},
        on="appointment_read",
    ),
    "appointment_missed": post(
        "appointments/{appointment}/missed/",
        HOUSE,
        abroad=ABROAD,
        finds=booked("booked"),
        body={},
        on="appointment_read",
    ),
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
        body={"reference": "back-told-2"},
        on="response_read",
    ),
    "figures_read": get("figures/", OFFICE, query={"days": "30"}),
    "outlook_read": get("outlook/", OFFICE),
}
