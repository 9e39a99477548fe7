"""Appointments: read, booked, moved, and taken along their steps."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.urls import reverse

from planner.api.filters import Filters, Named, On, OneOf
from planner.api.find import named, one
from planner.api.operation import Act, Listing, Read
from planner.api.pages import Orders
from planner.api.shapes import appointments as shapes
from planner.api.shapes.requests import MaybeWhy, Why
from planner.gateway.offers.waiting import freed_when_kept
from planner.gateway.present import now
from sites.access import (
    appointments_visible,
    requests_visible,
    stations_visible,
    technicians_visible,
)
from sites.clock import date_words, minute_words
from sites.errors import StepRefused
from sites.models import Step, User
from sites.selectors.missed import may_miss
from sites.services.appointments import appointment_book, appointment_move, appointment_step

TAKEN = ("does_not_fit", "slot_taken", "step_refused")


def appointments(user: User) -> QuerySet[Any]:
    """Appointments with what is shown of them."""
    return appointments_visible(user).select_related("request", "station__site", "technician")


def appointment(user: User, code: str) -> Any:
    """One of them."""
    return one(appointments(user), "appointment", code=code)


class AppointmentFilters(Filters):
    """Appointments by place, time and step."""

    site = Named(field_name="station__site__code", label="Code of the site.")
    station = Named(field_name="station__code", label="Code of the station.")
    technician = Named(field_name="technician__code", label="Code of the technician.")
    request = Named(field_name="request__reference", label="Reference of the request.")
    step = OneOf(Step.values, label="Where it is on its way.")
    day_from = On(field_name="day", lookup_expr="gte", label="On this day or later.")
    day_to = On(field_name="day", lookup_expr="lte", label="On this day or before.")


class AppointmentsList(Listing):
    """The appointments in your view, in the order of time."""

    rule, tag, gives = "days.see", "appointments", shapes.AppointmentShape
    filters = AppointmentFilters
    orders: ClassVar[Orders] = {"time": ("starts_at", "code"), "-time": ("-starts_at", "code")}

    def rows(self, user: User) -> QuerySet[Any]:
        """Appointments."""
        return appointments(user)


class AppointmentRead(Read):
    """An appointment."""

    rule, tag, gives = "days.see", "appointments", shapes.AppointmentShape

    def find(self, user: User, **path: Any) -> Any:
        """By its code."""
        return appointment(user, path["appointment"])


class AppointmentBook(Act):
    """Book a request.

    The database refuses a second use of a station, a technician or a subject at one time. Never
    print over fresh cuts, blisters or bandages: book after healing.
    """

    rule, tag, takes, gives = (
        "bookings.change",
        "appointments",
        shapes.BookIn,
        shapes.AppointmentShape,
    )
    refuses = (*TAKEN, "already_booked")

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Book it."""
        user = self.request.user
        made = appointment_book(
            request=named(
                requests_visible(user), "request", "request", values["request"], "reference"
            ),
            station=named(stations_visible(user), "station", "station", values["station"]),
            technician=named(
                technicians_visible(user), "technician", "technician", values["technician"]
            ),
            by=user,
            at=now(),
            why=values.get("why", ""),
            **shapes.place_of(values),
        )
        return appointment(user, made.code)

    def place(self, done: Any) -> str:
        """Where it can be read."""
        return reverse("api:appointment", args=[done.code])


class AppointmentMove(Act):
    """Give an appointment another place or time; a notice to the person is raised."""

    rule, tag, takes, gives = (
        "bookings.change",
        "appointments",
        shapes.MoveIn,
        shapes.AppointmentShape,
    )
    on, status, refuses = AppointmentRead, 200, TAKEN

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Move it."""
        user = self.request.user
        appointment_move(
            appointment=thing,
            station=named(stations_visible(user), "station", "station", values["station"]),
            technician=named(
                technicians_visible(user), "technician", "technician", values["technician"]
            ),
            by=user,
            at=now(),
            why=values["why"],
            **shapes.place_of(values),
        )
        return appointment(user, thing.code)


class Stepped(Act):
    """A step of an appointment that needs nothing else; ``action`` is its name in the table.

    Where it ``frees`` a time, that is put to who waits for one.
    """

    tag, gives, takes = "appointments", shapes.AppointmentShape, MaybeWhy
    on, status = AppointmentRead, 200
    refuses: ClassVar[Sequence[str]] = ("step_refused",)
    action = ""
    frees = False

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Take the step."""
        user, at = self.request.user, now()
        appointment_step(
            appointment=thing, action=self.action, by=user, at=at, why=values.get("why", "")
        )
        if self.frees:
            freed_when_kept(thing, now=at)
        return appointment(user, thing.code)


class AppointmentCancel(Stepped):
    """Cancel an appointment, with the reason; a notice to the person is raised."""

    rule, action, takes, frees = "bookings.change", "cancel", Why, True


class AppointmentArrive(Stepped):
    """Keep that the person has come."""

    rule, action = "arrivals.change", "arrive"
    refuses = ("step_refused", "slot_taken")


class AppointmentTakeBack(Stepped):
    """Take an arrival back that was kept by mistake."""

    rule, action = "arrivals.change", "take_back"


class AppointmentMissed(Stepped):
    """Keep that nobody came, once the told time is over."""

    rule, action, frees = "arrivals.change", "no_show", True

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Keep it, and let the time be put to who waits."""
        if thing.step == Step.BOOKED and not may_miss(thing, now()):
            raise StepRefused(
                thing.code,
                f"is told for {date_words(thing.day)} {minute_words(thing.told_minute)}, not over",
                "cancel it if the person says ahead that they cannot come",
            )
        return super().act(thing, values)
