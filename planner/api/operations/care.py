"""Scanner care and downtimes: read, set, closed."""

from __future__ import annotations

import secrets
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.urls import reverse

from planner.api.filters import Filters, Named, On, OneOf, Yes
from planner.api.find import named, one
from planner.api.operation import Act, Listing, Read
from planner.api.pages import Orders
from planner.api.shapes import care as shapes
from planner.gateway.present import now
from sites.access import care_visible, downtimes_visible, stations_visible, technicians_visible
from sites.models import CareKind, CareOutcome, User
from sites.services.care import care_close, care_fix
from sites.services.times import downtime_add


def windows(user: User) -> QuerySet[Any]:
    """Care with what is shown of it."""
    return care_visible(user).select_related("station__site", "scanner", "technician")


class CareFilters(Filters):
    """Care by place and time."""

    site = Named(field_name="station__site__code", label="Code of the site.")
    station = Named(field_name="station__code", label="Code of the station.")
    kind = OneOf(CareKind.values, label="What is done.")
    open = Yes(method="by_open", label="Whether it is neither done nor missed yet.")
    latest_from = On(field_name="latest", lookup_expr="gte", label="Due on this day or later.")
    latest_to = On(field_name="latest", lookup_expr="lte", label="Due on this day or before.")

    def by_open(self, rows: QuerySet[Any], _: str, value: bool) -> QuerySet[Any]:
        """Open or not."""
        return rows.filter(outcome="") if value else rows.exclude(outcome="")


class CareList(Listing):
    """The scanner care in your view, by when it is due."""

    rule, tag, gives, filters = "care.see", "care", shapes.CareShape, CareFilters
    orders: ClassVar[Orders] = {"latest": ("latest", "code"), "-latest": ("-latest", "code")}

    def rows(self, user: User) -> QuerySet[Any]:
        """Care windows."""
        return windows(user)


class CareRead(Read):
    """A piece of scanner care."""

    rule, tag, gives = "care.see", "care", shapes.CareShape

    def find(self, user: User, **path: Any) -> Any:
        """By its code."""
        return one(windows(user), "care window", code=path["care"])


class CareSet(Act):
    """Set scanner care at a time of your choice; plans leave it there.

    The maker's instructions come first. Clean the platen before calibrating.
    """

    rule, tag, takes, gives = "care.change", "care", shapes.CareIn, shapes.CareSetShape
    refuses = ("slot_taken",)

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Set it; who is in the way is refused or loses their place, as asked."""
        user = self.request.user
        who = values.get("technician")
        window, moved = care_fix(
            station=named(stations_visible(user), "station", "station", values["station"]),
            kind=CareKind(values["kind"]),
            day=values["day"],
            minute=values["time"],
            minutes=values["minutes"],
            technician=named(technicians_visible(user), "technician", "technician", who)
            if who
            else None,
            note=values.get("note", ""),
            code=f"care-{secrets.token_hex(6)}",
            displace=values.get("displace", False),
            by=user,
        )
        care = one(windows(user), "care window", code=window.code)
        return {"care": care, "displaced": [each.appointment.code for each in moved]}

    def place(self, done: Any) -> str:
        """Where it can be read."""
        return reverse("api:care-window", args=[done["care"].code])


class CareEnd(Act):
    """Keep that care was done, or missed."""

    rule, tag, takes, gives = "care.close", "care", shapes.CareClose, shapes.CareShape
    on, status = CareRead, 200

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Close it."""
        user = self.request.user
        care_close(
            window=thing,
            outcome=CareOutcome(values["outcome"]),
            by=user,
            at=now(),
            note=values.get("note", ""),
        )
        return one(windows(user), "care window", code=thing.code)


class DowntimeFilters(Filters):
    """Downtimes by place and time."""

    site = Named(field_name="station__site__code", label="Code of the site.")
    station = Named(field_name="station__code", label="Code of the station.")
    day_from = On(field_name="day", lookup_expr="gte", label="On this day or later.")
    day_to = On(field_name="day", lookup_expr="lte", label="On this day or before.")


class DowntimesList(Listing):
    """The times in which stations in your view take nobody."""

    rule, tag, gives, filters = "care.see", "care", shapes.DowntimeShape, DowntimeFilters
    orders: ClassVar[Orders] = {"time": ("starts_at", "pk"), "-time": ("-starts_at", "pk")}

    def rows(self, user: User) -> QuerySet[Any]:
        """Downtimes."""
        return downtimes_visible(user).select_related("station__site")


class DowntimeAdd(Act):
    """Take a station out of use for a time."""

    rule, tag, takes, gives = "care.change", "care", shapes.DowntimeIn, shapes.DowntimeSetShape
    refuses = ("slot_taken",)

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Keep it; who is in the way is refused or loses their place, as asked."""
        user = self.request.user
        down, moved = downtime_add(
            station=named(stations_visible(user), "station", "station", values["station"]),
            day=values["day"],
            minute=values["time"],
            minutes=values["minutes"],
            reason=values["reason"],
            displace=values.get("displace", False),
            by=user,
        )
        return {"downtime": down, "displaced": [each.appointment.code for each in moved]}
