"""Whose name and contact data is shown to whom: the one rule, for pages, files and the API.

Who has to reach a person sees name and contact data: coordinator at the request's sites, and
administrator. Who checks identity sees the name on the day of the visit: site lead and technician
at the site. Manager and auditor see neither. The programme's policy and the law come first; these
are the least that the work needs. A need for access or time is shown to who serves the person.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from sites.access.roles import FLOOR, HOUSE, Who, has_role, is_administrator
from sites.access.visible import appointments_visible, requests_visible
from sites.clock import wall
from sites.models.account import Role
from sites.models.request import Request
from sites.step import OCCUPIES


@dataclass(frozen=True, slots=True)
class Person:
    """What somebody may see of a subject; empty texts are not shown, and ``why`` says why not."""

    name: str = ""
    phone: str = ""
    email: str = ""
    language: str = ""
    needs: tuple[str, ...] = ()
    why: str = ""

    @property
    def reachable(self) -> bool:
        """Whether there is a phone number or a mail address to show."""
        return bool(self.phone or self.email)


NEVER = "Names and contact data are shown only to those who have to reach or to check the person."
ON_THE_DAY = "The name is shown on the day of the visit, to check identity; contact data is not."
PURGED = "Name and contact data are not in the record, or no longer."


def person_shown(*, user: Who, request: Request, now: datetime) -> Person:
    """What somebody may see of the subject of one request, at an instant."""
    return people_shown(user=user, requests=[request], now=now)[request.pk]


def people_shown(*, user: Who, requests: Iterable[Request], now: datetime) -> dict[int, Person]:
    """What somebody may see of the subjects of these requests, by request; two queries at most.

    Select ``subject`` with the requests. Nothing is unsealed that is not shown.
    """
    rows = list(requests)
    contact: set[int] = set()
    named: set[int] = set()
    if is_administrator(user):
        contact = {row.pk for row in rows}
    elif has_role(user, (Role.COORDINATOR,)):
        seen = requests_visible(user).filter(pk__in=[row.pk for row in rows])
        contact = set(seen.order_by().values_list("pk", flat=True))
    elif has_role(user, FLOOR):
        named = here_today(user, rows, now)
    serves = needs_shown(user)
    floor = has_role(user, FLOOR)
    return {
        row.pk: shown(
            row, contact=row.pk in contact, named=row.pk in named, serves=serves, floor=floor
        )
        for row in rows
    }


def needs_shown(user: Who) -> bool:
    """Whether somebody serves people, so that a need for access or time is shown to them."""
    return has_role(user, HOUSE)


def here_today(user: Who, requests: list[Request], now: datetime) -> set[int]:
    """Keys of the requests with a visible appointment today, on the clock of its site."""
    booked = appointments_visible(user).filter(request__in=requests, step__in=OCCUPIES)
    return {
        row.request_id
        for row in booked.select_related("station__site").order_by()
        if row.day == wall(row.station.site.timezone, now)[0]
    }


def shown(request: Request, *, contact: bool, named: bool, serves: bool, floor: bool) -> Person:
    """The fields that are open."""
    one = request.subject
    needs = (
        *(["accessible station"] if one.needs_access else []),
        *(["longer session"] if one.needs_longer else []),
    )
    given = needs if serves else ()
    if not contact and not named:
        return Person(needs=given, why=ON_THE_DAY if floor else NEVER)
    name = " ".join(filter(None, (one.given_name, one.family_name)))
    if not contact:
        return Person(name=name, language=one.language, needs=given, why=ON_THE_DAY)
    why = "" if name or one.phone or one.email else PURGED
    return Person(name, one.phone, one.email, one.language, given, why)
