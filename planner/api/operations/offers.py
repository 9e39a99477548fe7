"""When could this person come: free times of one request, looked for and taken."""

from __future__ import annotations

from typing import Any

from django.urls import reverse

from planner.api.find import one
from planner.api.operation import Act, Read
from planner.api.operations.appointments import TAKEN, appointment
from planner.api.operations.requests import RequestRead, requests
from planner.api.problems import BadQuery
from planner.api.shapes import offers as shapes
from planner.api.shapes.requests import RequestShape
from planner.gateway.offers.ask import ask
from planner.gateway.offers.narrow import Narrow, skills_of
from planner.gateway.offers.take import Wish, active_of, ensure_here, seen_of, take
from planner.gateway.offers.waiting import freed_when_kept
from planner.gateway.present import now, today
from sites.access import sites_visible
from sites.models import Appointment, Site, User
from sites.services.rebook import request_not_before


class OffersRead(Read):
    """The free times of a request, best first, at the sites in your view.

    Nothing is held by looking: who takes a time first has it. Where there are none, the reason and
    the nearest remedy. Never print over fresh cuts, blisters or bandages: look for times after
    healing.
    """

    rule, tag, gives, query = "bookings.change", "offers", shapes.OffersShape, shapes.OffersQuery
    rate, refuses = "heavy", ("bad_value",)

    def find(self, user: User, **path: Any) -> Any:
        """The times that the query leaves."""
        request = one(requests(user), "request", reference=path["reference"])
        sites, asked = places(user), self.asked()
        top = asked.pop("top")
        if "site" in asked and asked["site"] not in {site.code for site in sites}:
            raise BadQuery({"site": ["is no site in your view: name one by its code."]})
        if "skill" in asked and asked["skill"] not in (known := skills_of(sites)):
            raise BadQuery({"skill": [f"is held by nobody there: {', '.join(known) or 'none'}."]})
        found = ask(request, now=now(), sites=sites, narrow=Narrow(**asked), top=top)
        return {
            "request": request.reference,
            "times": found.times,
            "given": found.given,
            "held": found.held,
            "standby": found.standby,
            "first": found.first,
            "last": found.last,
            "sites": [site.code for site in found.sites],
            "skills": found.skills,
            "reasons": found.reasons,
        }


def places(user: User) -> list[Site]:
    """The sites at which somebody may book."""
    return list(sites_visible(user).order_by("code"))


def seen_by(request: Any) -> str:
    """The appointment that an ETag of the request stands for, as `take` asks."""
    return seen_of(standing_at(request))


def standing_at(request: Any) -> Appointment | None:
    """The appointment of a request that was read."""
    found: Appointment | None = next(iter(request.standing_at), None)
    return found


class OfferTake(Act):
    """Take a free time: book the request, or move its appointment there.

    It is looked at once more, and the database has the last word: who was slower gets 409 and asks
    for times again. A request that has that very time already keeps it (`stands`).
    """

    rule, tag, takes, gives = "bookings.change", "offers", shapes.OfferTakeIn, shapes.TakenShape
    on, status, refuses = RequestRead, 200, (*TAKEN, "already_booked")
    rate = "heavy"

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Book or move."""
        user = self.request.user
        ensure_here(user, active_of(thing))
        made, done = take(
            thing,
            Wish(values["site"], values["day"], values["told"]),
            by=user,
            now=now(),
            sites=places(user),
            seen=seen_by(thing),
            why=values.get("why", ""),
        )
        return {"done": done, "appointment": appointment(user, made.code)}

    def place(self, done: Any) -> str:
        """Where the appointment can be read."""
        return reverse("api:appointment", args=[done["appointment"].code])


class RequestNotBefore(Act):
    """Let a request be booked from a day on only: hand care or healing first.

    An appointment before that day is cancelled, and its time is put to who waits. Why is not kept:
    it would say something of a person's health. The person, or whoever treats them, says when the
    hands are ready.
    """

    rule, tag, takes, gives = "bookings.change", "requests", shapes.NotBeforeIn, RequestShape
    on, status, refuses = RequestRead, 200, ("step_refused",)

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Keep the day."""
        user, at = self.request.user, now()
        ensure_here(user, active_of(thing))
        given_back = request_not_before(
            request=thing, day=values["day"], today=today(), by=user, at=at
        )
        if given_back is not None:
            freed_when_kept(given_back, now=at)
        return one(requests(user), "request", reference=thing.reference)
