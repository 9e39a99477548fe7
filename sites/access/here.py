"""Whether what somebody acts on lies at their sites: asked by the services that write.

Pages and operations begin at what somebody sees, so that a row from elsewhere is a 404. A service
asks once more, whatever door its rows came through: a row that a form, a file, a queue or a command
brought along is refused all the same.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db.models import Model, QuerySet

from sites.access.roles import sees_everywhere
from sites.access.visible import (
    appointments_visible,
    care_visible,
    notices_visible,
    plan_runs_visible,
    requests_visible,
    responses_visible,
    sessions_visible,
    sites_visible,
    stations_visible,
    technicians_visible,
)
from sites.models.account import User
from sites.models.appointment import Appointment
from sites.models.care import CareWindow
from sites.models.notice import Notice
from sites.models.planrun import PlanRun
from sites.models.request import Request
from sites.models.session import Session
from sites.models.site import Site
from sites.models.station import Station
from sites.models.submission import Response
from sites.models.technician import Technician

VISIBLE: dict[type[Model], Callable[[User], QuerySet[Any]]] = {
    Appointment: appointments_visible,
    CareWindow: care_visible,
    Notice: notices_visible,
    PlanRun: plan_runs_visible,
    Request: requests_visible,
    Response: responses_visible,
    Session: sessions_visible,
    Site: sites_visible,
    Station: stations_visible,
    Technician: technicians_visible,
}
AT_ONCE = 1000


class NotHere(PermissionDenied):
    """A row lies at no site of whoever acts; the text is the sentence to show."""

    code = "not_here"

    def __init__(self, row: Model) -> None:
        name, noun = f"{row}", f"{row._meta.verbose_name}"
        named = name if noun.rsplit(maxsplit=1)[-1] in name.lower() else f"The {noun} {name}"
        super().__init__(f"{named} is not at your sites: ask somebody whose login covers its site.")


def require_here(by: User | None, *rows: Model) -> None:
    """Raise NotHere with the first of these rows that is not in somebody's view.

    ``by`` None is the program itself, such as a planning run: nothing is asked. Nor is anything of
    who sees every site; of others one query a kind of row. Raises KeyError for a kind that has no
    view.
    """
    if by is None or sees_everywhere(by):
        return
    kinds: dict[type[Model], dict[Any, Model]] = {}
    for row in rows:
        kinds.setdefault(type(row), {})[row.pk] = row
    for model, there in kinds.items():
        keys = list(there)
        for start in range(0, len(keys), AT_ONCE):
            part = keys[start : start + AT_ONCE]
            rows_seen = VISIBLE[model](by).filter(pk__in=part).order_by()
            seen = set(rows_seen.values_list("pk", flat=True))
            for key in part:
                if key not in seen:
                    raise NotHere(there[key])
