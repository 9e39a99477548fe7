"""Requests: read, taken in, closed, and their subjects as far as somebody may see them."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import Exists, OuterRef, Prefetch, QuerySet
from django.urls import reverse
from rest_framework.response import Response

from planner.api.filters import Filters, Named, On, OneOf, Yes
from planner.api.find import named, one
from planner.api.operation import Act, Listing, Read
from planner.api.pages import Orders
from planner.api.shapes import requests as shapes
from planner.gateway.present import now, today
from sites.access import person_shown, requests_visible, sites_visible, subjects_visible
from sites.models import (
    ACTIVE,
    Appointment,
    Profile,
    Programme,
    Request,
    RequestSite,
    User,
)
from sites.selectors.slack import requests_slack
from sites.selectors.standing import OPEN, Standing
from sites.selectors.subjects import subject_find
from sites.selectors.timeline import request_timeline
from sites.services.requests import request_close, request_receive
from sites.services.subjects import subject_keep


def requests(user: User) -> QuerySet[Any]:
    """Requests with where they stand and what is shown of them."""
    rows = requests_slack(today=today(), requests=requests_visible(user))
    at_sites = Prefetch("at_sites", RequestSite.objects.select_related("site"))
    active = Appointment.objects.filter(step__in=ACTIVE)
    return rows.select_related(
        "terms__programme", "profile", "subject", "rework_of"
    ).prefetch_related(at_sites, Prefetch("appointments", active, to_attr="standing_at"))


class RequestFilters(Filters):
    """Requests by place, date and where they stand. Nobody is looked for by name in an address."""

    standing = OneOf(Standing.values, label="Where it stands.")
    open = Yes(method="by_open", label="Whether it has no accepted set yet and is not closed.")
    site = Named(method="by_site", label="Code of a site that can take it.")
    programme = Named(field_name="terms__programme__code", label="Code of the programme.")
    rework = Yes(label="Whether an image return caused it.")
    due_from = On(field_name="due", lookup_expr="gte", label="Due on this day or later.")
    due_to = On(field_name="due", lookup_expr="lte", label="Due on this day or before.")
    received_from = On(field_name="received", lookup_expr="gte", label="Received then or later.")
    received_to = On(field_name="received", lookup_expr="lte", label="Received then or before.")
    begins = Named(
        field_name="reference", lookup_expr="istartswith", label="How its reference begins."
    )

    def by_open(self, rows: QuerySet[Any], _: str, value: bool) -> QuerySet[Any]:
        """Open or not."""
        return rows.filter(standing__in=OPEN) if value else rows.exclude(standing__in=OPEN)

    def by_site(self, rows: QuerySet[Any], _: str, value: str) -> QuerySet[Any]:
        """Those that could go to a site."""
        there = RequestSite.objects.filter(request=OuterRef("pk"), site__code=value)
        return rows.filter(Exists(there))


class RequestsList(Listing):
    """The requests in your view, who is nearest to being late first.

    They carry no names: what you may see of a person is an operation of its own.
    """

    rule, tag, gives, filters = "requests.see", "requests", shapes.RequestShape, RequestFilters
    orders: ClassVar[Orders] = {
        "slack": ("slack", "due", "reference"),
        "due": ("due", "reference"),
        "-due": ("-due", "reference"),
        "received": ("received", "reference"),
        "-received": ("-received", "reference"),
        "reference": ("reference",),
    }

    def rows(self, user: User) -> QuerySet[Any]:
        """Requests."""
        return requests(user)


class RequestRead(Read):
    """A request, with where it stands."""

    rule, tag, gives = "requests.see", "requests", shapes.RequestShape

    def find(self, user: User, **path: Any) -> Any:
        """By its reference."""
        return one(requests(user), "request", reference=path["reference"])


class RequestReceive(Act):
    """Take a request in.

    A subject who is not known yet is kept with it. Names and contact data are encrypted at rest;
    give no more than the work needs, and needs without their reasons.
    """

    rule, tag, takes, gives = "intake.change", "requests", shapes.RequestIn, shapes.RequestShape

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Subject and request, both or neither."""
        user = self.request.user
        places = [
            named(sites_visible(user), "site", "sites", code)
            for code in dict.fromkeys(values["sites"])
        ]
        given = {
            name: values[name]
            for name in ("release", "due", "control_number", "priority")
            if name in values
        }
        made = request_receive(
            programme=named(Programme.objects.all(), "programme", "programme", values["programme"]),
            profile=named(Profile.objects.all(), "kind of session", "profile", values["profile"]),
            subject=subject_keep(**values["subject"]),
            reference=values["reference"],
            received=values["received"],
            sites=places,
            **given,
        )
        return one(requests(user), "request", reference=made.reference)

    def place(self, done: Any) -> str:
        """Where it can be read."""
        return reverse("api:request", args=[done.reference])


class RequestClose(Act):
    """End a need without an accepted set.

    Whether a need ends is decided by people under the programme's rules. An appointment is
    cancelled first.
    """

    rule, tag, takes, gives = "requests.change", "requests", shapes.Why, shapes.RequestShape
    on, status, refuses = RequestRead, 200, ("step_refused",)

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Close it."""
        request_close(request=thing, why=values["why"], at=now())
        return one(requests(self.request.user), "request", reference=thing.reference)


def visible(user: User, reference: str) -> Request:
    """A request that somebody sees, with its subject."""
    rows = requests_visible(user).select_related("subject")
    found: Request = one(rows, "request", reference=reference)
    return found


class RequestTimeline(Read):
    """Everything that happened to a request, oldest first."""

    rule, tag, gives = "requests.see", "requests", shapes.TimelineShape

    def find(self, user: User, **path: Any) -> Any:
        """Its happenings."""
        return request_timeline(request=visible(user, path["reference"]))


class RequestPerson(Read):
    """What you may see of a request's subject.

    Name and contact data are shown to those who have to reach or to check the person, and kept by
    no cache. Hold no copy longer than the work needs.
    """

    rule, tag, gives = "requests.see", "people", shapes.PersonShape

    def find(self, user: User, **path: Any) -> Any:
        """The fields that are open to this person."""
        return person_shown(user=user, request=visible(user, path["reference"]), now=now())

    def get(self, request: Any, **path: Any) -> Response:
        """The person, for this answer only."""
        answer = super().get(request, **path)
        answer["Cache-Control"] = "no-store"
        return answer


class PersonFind(Act):
    """Find requests by what somebody says of themselves.

    A reference, a whole family name, phone number or mail address; case and marks do not count.
    The words are in the body, so that no log of addresses holds them.
    """

    rule, tag, takes, gives = "people.find", "people", shapes.FindIn, shapes.FoundShape
    status, replays = 200, False

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """References in order."""
        user = self.request.user
        people = subject_find(words=values["words"], subjects=subjects_visible(user))
        rows = requests_visible(user).filter(subject__in=people)
        found = rows.order_by("reference").values_list("reference", flat=True)
        return {"requests": list(found[:200])}
