"""Submissions and responses: registered, read, the subject contacted, rework asked for."""

from __future__ import annotations

from typing import Any, ClassVar

import django_filters
from django.db.models import QuerySet
from django.urls import reverse

from planner.api.filters import Filters, Named, On, OneOf, Yes
from planner.api.find import named, one
from planner.api.operation import Act, Listing, Read
from planner.api.operations.requests import requests
from planner.api.pages import Orders
from planner.api.shapes import returns as shapes
from planner.api.shapes.requests import RequestShape
from planner.gateway.present import now, today
from sites.access import responses_visible, submissions_visible
from sites.models import Profile, ResponseKind, Skill, User
from sites.selectors.advice import rework_places
from sites.services.requests import request_rework
from sites.services.returns import response_reached, rework_as_advised, rework_reference
from sites.services.submissions import response_read, response_receive


class SubmissionFilters(Filters):
    """Submissions by request, number and answer."""

    request = Named(field_name="request__reference", label="Reference of the request.")
    control_number = django_filters.CharFilter(label="Its control number.")
    answered = Yes(
        field_name="response",
        lookup_expr="isnull",
        exclude=True,
        label="Whether it has a response.",
    )


class SubmissionsList(Listing):
    """The sets that were sent on from the sites in your view."""

    rule, tag, gives = "returns.see", "returns", shapes.SubmissionShape
    filters = SubmissionFilters
    orders: ClassVar[Orders] = {"-sent": ("-sent_at", "-pk"), "sent": ("sent_at", "pk")}

    def rows(self, user: User) -> QuerySet[Any]:
        """Submissions."""
        return submissions_visible(user).select_related("request")


def responses(user: User) -> QuerySet[Any]:
    """Responses with what is shown of them."""
    return responses_visible(user).select_related("submission__request")


class ResponseFilters(Filters):
    """Responses by kind, date and what was done about them."""

    kind = OneOf(ResponseKind.values, label="What came back.")
    request = Named(field_name="submission__request__reference", label="Reference of the request.")
    read = Yes(
        field_name="read_at", lookup_expr="isnull", exclude=True, label="Whether somebody read it."
    )
    contacted = Yes(
        field_name="contacted_at",
        lookup_expr="isnull",
        exclude=True,
        label="Whether the subject was reached.",
    )
    received_from = On(
        field_name="received_at", lookup_expr="date__gte", label="Received then or later (UTC)."
    )
    received_to = On(
        field_name="received_at", lookup_expr="date__lte", label="Received then or before (UTC)."
    )


class ResponsesList(Listing):
    """The responses to sets of the sites in your view, oldest first.

    Returns are read every working day, and the subject is contacted.
    """

    rule, tag, gives, filters = "returns.see", "returns", shapes.ResponseShape, ResponseFilters
    orders: ClassVar[Orders] = {
        "received": ("received_at", "pk"),
        "-received": ("-received_at", "-pk"),
    }

    def rows(self, user: User) -> QuerySet[Any]:
        """Responses."""
        return responses(user)


class ResponseRead(Read):
    """A response."""

    rule, tag, gives = "returns.see", "returns", shapes.ResponseShape

    def find(self, user: User, **path: Any) -> Any:
        """By its number here."""
        return one(responses(user), "response", pk=path["number"])


class ResponseRegister(Act):
    """Register what came back for a submission.

    A response says what the programme asks for; it decides nothing about a person here.
    """

    rule, tag, takes, gives = "returns.change", "returns", shapes.ResponseIn, shapes.ResponseShape

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Keep it."""
        user = self.request.user
        made = response_receive(
            submission=named(
                submissions_visible(user),
                "submission",
                "control_number",
                values["control_number"],
                "control_number",
            ),
            kind=ResponseKind(values["kind"]),
            at=values.get("received_at") or now(),
            detail=values.get("detail", ""),
            code=values.get("code", ""),
        )
        return one(responses(user), "response", pk=made.pk)

    def place(self, done: Any) -> str:
        """Where it can be read."""
        return reverse("api:response", args=[done.pk])


class ResponseSeen(Act):
    """Keep that you read a response."""

    rule, tag, gives, on, status = (
        "returns.change",
        "returns",
        shapes.ResponseShape,
        ResponseRead,
        200,
    )

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Keep by whom and when."""
        user = self.request.user
        response_read(response=thing, by=user, at=now())
        return one(responses(user), "response", pk=thing.pk)


class ResponseContacted(Act):
    """Keep that the subject of a returned set was reached.

    A response that nobody had read is read by this.
    """

    rule, tag, gives, on, status = (
        "returns.change",
        "returns",
        shapes.ResponseShape,
        ResponseRead,
        200,
    )
    refuses = ("step_refused",)

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Keep when."""
        response_reached(response=thing, by=self.request.user, at=now())
        return one(responses(self.request.user), "response", pk=thing.pk)


class ResponseRework(Act):
    """Ask for the session that an image return makes necessary, under the same terms.

    `as_recommended` takes the recommended session as it is; else people say what differs. Never
    print over fresh cuts, blisters or bandages: book after healing.
    """

    rule, tag, takes, gives, on = (
        "returns.change",
        "returns",
        shapes.ReworkIn,
        RequestShape,
        ResponseRead,
    )
    refuses = ("step_refused",)

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Ask for it."""
        user = self.request.user
        if values.get("as_recommended"):
            made = rework_as_advised(response=thing, today=today())
            return one(requests(user), "request", reference=made.reference)
        returned, kind = thing.submission.request, values.get("profile")
        said = ("release", "due", "advice")
        own: dict[str, Any] = {name: values[name] for name in said if name in values}
        for name, rows in (
            ("skills", Skill.objects.all()),
            ("sites", rework_places(user=user, returned=returned)),
        ):
            if name in values:
                own[name] = [named(rows, name[:-1], name, code) for code in values[name]]
        made = request_rework(
            response=thing,
            reference=values.get("reference") or rework_reference(returned),
            today=today(),
            profile=named(Profile.objects.all(), "kind of session", "profile", kind)
            if kind
            else None,
            **own,
        )
        return one(requests(user), "request", reference=made.reference)

    def place(self, done: Any) -> str:
        """Where the new request can be read."""
        return reverse("api:request", args=[done.reference])
