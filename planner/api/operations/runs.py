"""Planning runs: asked for, followed, ended. Nothing is booked before somebody accepts a plan."""

from __future__ import annotations

from typing import Any, ClassVar, NoReturn

from django.db.models import QuerySet
from django.urls import reverse
from rest_framework import serializers

from planner.api.filters import Filters, Named, On, OneOf
from planner.api.find import named, one
from planner.api.operation import Act, Listing, Read
from planner.api.pages import Orders
from planner.api.shapes import runs as shapes
from planner.gateway.present import today
from planner.gateway.runs import ask
from planner.gateway.runs.scope import (
    USUAL_SECONDS,
    Which,
    requests_asked,
    sites_asked,
    unknown_requests,
)
from sites.access import plan_runs_visible, sites_visible
from sites.models import RunState, User
from sites.selectors.runs import runs as all_runs
from sites.services.runs import run_cancel

SHOWN = 5
"""Unknown references that are named."""


def runs(user: User) -> QuerySet[Any]:
    """Runs over nothing but sites in view, with what is shown of them."""
    return all_runs().filter(pk__in=plan_runs_visible(user).values("pk"))


class RunFilters(Filters):
    """Runs by where they stand, place and days."""

    state = OneOf(RunState.values, label="Where it stands.")
    site = Named(field_name="sites__code", label="Code of a site that it names.")
    first_from = On(field_name="first_day", lookup_expr="gte", label="Begins then or later.")
    first_to = On(field_name="first_day", lookup_expr="lte", label="Begins then or before.")


class RunsList(Listing):
    """The planning runs over sites in your view, the newest first."""

    rule, tag, gives, filters = "runs.see", "runs", shapes.RunShape, RunFilters
    orders: ClassVar[Orders] = {
        "-created": ("-created_at", "-pk"),
        "created": ("created_at", "pk"),
    }

    def rows(self, user: User) -> QuerySet[Any]:
        """Runs."""
        return runs(user)


class RunRead(Read):
    """A planning run: where it stands, and what the best plan so far comes to."""

    rule, tag, gives = "runs.see", "runs", shapes.RunShape

    def find(self, user: User, **path: Any) -> Any:
        """By its number."""
        return one(runs(user), "planning run", pk=path["run"])


class RunAsk(Act):
    """Ask for a planning run; a worker plans it, and nothing is booked until you accept its plan.

    Read it until its state is `ready`: `planning` tells its stage and the best plan so far.
    """

    rule, tag, takes, gives, rate = "runs.start", "runs", shapes.RunIn, shapes.RunShape, "heavy"

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Ask; it is sent when this is kept."""
        user, which = self.request.user, Which(values["which"])
        if values["first_day"] < today():
            refuse("first_day", f"is past: choose {today()} or a later day.")
        chosen = [
            named(sites_visible(user), "site", "sites", code).code
            for code in dict.fromkeys(values.get("sites", ()))
        ]
        sites = sites_asked(user, chosen)
        if sites == [] or not sites_visible(user).exists():
            refuse("sites", "There is no site in your view to plan for.")
        listed = values.get("requests", ())
        if unknown := unknown_requests(user, listed):
            more = f" and {len(unknown) - SHOWN} more" if len(unknown) > SHOWN else ""
            names = ", ".join(unknown[:SHOWN])
            refuse("requests", f"No such request in your view: {names}{more}. Leave them out.")
        requests = requests_asked(
            user, which, first_day=values["first_day"], due=values.get("due"), listed=listed
        )
        if requests == []:
            refuse("which", "No request in your view needs a session by this choice.")
        made = ask(
            first_day=values["first_day"],
            days=values["days"],
            sites=sites,
            requests=requests,
            seconds=values.get("seconds", USUAL_SECONDS),
            by=user,
        )
        return one(runs(user), "planning run", pk=made.pk)

    def place(self, done: Any) -> str:
        """Where it can be followed."""
        return reverse("api:run", args=[done.pk])


def refuse(name: str, said: str) -> NoReturn:
    """Raise ValidationError at a place of the body."""
    raise serializers.ValidationError({name: [said]})


class RunCancel(Act):
    """End a run now; the best plan so far is kept for review.

    One that nobody works on ends at once, one that is being planned as soon as its worker hears
    of it; one that is over stays as it is. While it plans its ETag changes every second, and
    ending it does not hang on how far it is: `If-Match: *`.
    """

    rule, tag, gives = "runs.start", "runs", shapes.RunShape
    on, status = RunRead, 200

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Ask the worker to end."""
        user = self.request.user
        run_cancel(run=thing.pk, by=user)
        return one(runs(user), "planning run", pk=thing.pk)
