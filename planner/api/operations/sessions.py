"""Sessions: started, the identity check, captures, missing fingers, overrides, ended."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import QuerySet
from django.urls import reverse

from planner.api.filters import Filters, Named, On, Yes
from planner.api.find import named, one
from planner.api.operation import Act, Listing, Read
from planner.api.operations.appointments import AppointmentRead
from planner.api.pages import Orders
from planner.api.shapes import sessions as shapes
from planner.gateway.present import now
from sites.access import scanners_visible, sessions_visible
from sites.models import Algorithm, Cause, OverrideKind, Session, SessionEnd, User
from sites.models.codes import FingerPosition, ImpressionType, MissingCode
from sites.services.sessions import (
    attempt_record,
    missing_record,
    override_record,
    session_end,
    session_identity_check,
    session_start,
)


def sessions(user: User) -> QuerySet[Any]:
    """Sessions with what is shown of them."""
    return (
        sessions_visible(user)
        .select_related(
            "appointment__request__terms",
            "appointment__station__site",
            "appointment__technician",
            "scanner",
        )
        .prefetch_related("attempts", "missing", "overrides__by")
    )


class SessionFilters(Filters):
    """Sessions by place, request and day."""

    site = Named(field_name="appointment__station__site__code", label="Code of the site.")
    request = Named(field_name="appointment__request__reference", label="Reference of the request.")
    technician = Named(field_name="appointment__technician__code", label="Code of the technician.")
    open = Yes(field_name="ended_at", lookup_expr="isnull", label="Whether it is under way.")
    day_from = On(field_name="appointment__day", lookup_expr="gte", label="On this day or later.")
    day_to = On(field_name="appointment__day", lookup_expr="lte", label="On this day or before.")


class SessionsList(Listing):
    """The sessions in your view, the newest first."""

    rule, tag, gives, filters = "sessions.see", "sessions", shapes.SessionShape, SessionFilters
    orders: ClassVar[Orders] = {
        "-started": ("-started_at", "-pk"),
        "started": ("started_at", "pk"),
    }

    def rows(self, user: User) -> QuerySet[Any]:
        """Sessions."""
        return sessions(user)


class SessionRead(Read):
    """The session of an appointment."""

    rule, tag, gives = "sessions.see", "sessions", shapes.SessionShape

    def find(self, user: User, **path: Any) -> Any:
        """By the appointment's code."""
        return one(sessions(user), "session of", appointment__code=path["appointment"])


class SessionStart(Act):
    """Start the session of somebody who has arrived.

    Clean hands, a clean platen, and nothing on the hands. Never print over fresh cuts, blisters or
    bandages: book again after healing.
    """

    rule, tag, takes, gives = "sessions.change", "sessions", shapes.StartIn, shapes.SessionShape
    on, refuses = AppointmentRead, ("step_refused", "slot_taken")

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Start it."""
        user = self.request.user
        code = values.get("scanner")
        scanner = named(scanners_visible(user), "scanner", "scanner", code) if code else None
        made = session_start(appointment=thing, by=user, at=now(), scanner=scanner)
        return one(sessions(user), "session", pk=made.pk)

    def place(self, done: Any) -> str:
        """Where it can be read."""
        return reverse("api:session", args=[done.appointment.code])


class Recorded(Act):
    """Something that is kept of a session under way."""

    rule, tag, gives = "sessions.change", "sessions", shapes.SessionShape
    on, status, refuses = SessionRead, 200, ("step_refused",)

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Keep it, and show the session."""
        self.keep(thing, values)
        return one(sessions(self.request.user), "session", pk=thing.pk)

    def keep(self, session: Session, values: dict[str, Any]) -> None:
        """Keep it by a service."""
        raise NotImplementedError


class SessionIdentity(Recorded):
    """Keep that the identity check was done: by you, now, and never what it showed."""

    def keep(self, session: Session, values: dict[str, Any]) -> None:
        """Keep by whom and when."""
        session_identity_check(session=session, by=self.request.user, at=now())


class SessionAttempt(Recorded):
    """Keep one more try at an impression, up to the tries that the programme allows.

    No image and no template: position, impression, and how good it was.
    """

    takes = shapes.AttemptIn

    def keep(self, session: Session, values: dict[str, Any]) -> None:
        """Keep the try."""
        attempt_record(
            session=session,
            position=FingerPosition(values["position"]),
            impression=ImpressionType(values["impression"]),
            kept=values.get("kept", False),
            algorithm=Algorithm(values["algorithm"]) if "algorithm" in values else None,
            algorithm_version=values.get("algorithm_version", ""),
            score=values.get("score"),
            cause=Cause(values["cause"]) if "cause" in values else None,
            seconds=values.get("seconds"),
        )


class SessionMissing(Recorded):
    """Keep that a finger is not printed: for good, or for now with a day to look again."""

    takes = shapes.MissingIn

    def keep(self, session: Session, values: dict[str, Any]) -> None:
        """Keep the finger."""
        missing_record(
            session=session,
            position=FingerPosition(values["position"]),
            code=MissingCode(values["code"]),
            review_on=values.get("review_on"),
        )


class SessionOverride(Recorded):
    """Keep that a capture is sent on although it fell short, where the programme allows that.

    Where it asks for a second person this is refused: nobody confirms by being named in a call.
    """

    takes = shapes.OverrideIn

    def keep(self, session: Session, values: dict[str, Any]) -> None:
        """Keep it with its reason."""
        override_record(
            session=session,
            position=FingerPosition(values["position"]),
            kind=OverrideKind(values["kind"]),
            reason=values["reason"],
            by=self.request.user,
            at=now(),
        )


class SessionOver(Recorded):
    """End a session: with a complete set, with one that needed an override, or broken off.

    A complete set needs the identity check. Whether somebody passes it is decided by people under
    the programme's rules.
    """

    takes = shapes.EndIn

    def keep(self, session: Session, values: dict[str, Any]) -> None:
        """End it."""
        session_end(
            session=session,
            how=SessionEnd(values["how"]),
            by=self.request.user,
            at=now(),
            note=values.get("note", ""),
        )
