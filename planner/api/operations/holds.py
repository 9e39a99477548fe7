"""Requests put on hold and released, one or many, and many given other sites."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from planner.api.find import named, one
from planner.api.operation import Act
from planner.api.operations.requests import RequestRead, requests
from planner.api.shapes import holds as shapes
from planner.api.shapes.requests import RequestShape
from planner.gateway.present import now, today
from sites.access import requests_visible, sites_visible
from sites.errors import StepRefused
from sites.models import Request, User
from sites.selectors.chosen import How
from sites.services.holds import requests_hold, requests_release
from sites.services.outcome import Outcome
from sites.services.request_sites import requests_sites_change

SHOWN = 5
"""Unknown references that are named."""


class RequestHold(Act):
    """Put a request on hold: neither people nor plans book it until it is released.

    What is booked keeps its appointment and is refused here: cancel that first. The reason is read
    by many: no names, nothing about health.
    """

    rule, tag, takes, gives = "requests.change", "requests", shapes.HoldIn, RequestShape
    on, status, refuses = RequestRead, 200, ("step_refused",)

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Hold it."""
        user = self.request.user
        ensure_done(requests_hold(requests=[thing], by=user, at=now(), **values))
        return one(requests(user), "request", reference=thing.reference)


class RequestRelease(Act):
    """End the hold of a request."""

    rule, tag, gives = "requests.change", "requests", RequestShape
    on, status, refuses = RequestRead, 200, ("step_refused",)

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Release it."""
        user = self.request.user
        ensure_done(requests_release(requests=[thing], by=user, at=now()))
        return one(requests(user), "request", reference=thing.reference)


class RequestsHold(Act):
    """Put many requests on hold; those that cannot be held are skipped, with the reason."""

    rule, tag, takes, gives = (
        "requests.change",
        "requests",
        shapes.HoldManyIn,
        shapes.OutcomeShape,
    )
    status = 200

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Hold them."""
        user = self.request.user
        rows = chosen(user, values.pop("requests"))
        return shown(requests_hold(requests=rows, by=user, at=now(), **values))


class RequestsRelease(Act):
    """End the holds of many requests; those that are not on hold are skipped."""

    rule, tag, takes, gives = (
        "requests.change",
        "requests",
        shapes.ReleaseManyIn,
        shapes.OutcomeShape,
    )
    status = 200

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Release them."""
        user = self.request.user
        rows = chosen(user, values["requests"])
        return shown(requests_release(requests=rows, by=user, at=now()))


class RequestsSites(Act):
    """Let many requests go to more sites, to these alone, or not to these.

    Only sites in your view are given or taken. Nobody is left without a site, or loses the one
    where they are booked or wait: those are skipped, with the reason.
    """

    rule, tag, takes, gives = (
        "requests.change",
        "requests",
        shapes.SitesManyIn,
        shapes.OutcomeShape,
    )
    status = 200

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Change them."""
        user = self.request.user
        within = list(sites_visible(user))
        done = requests_sites_change(
            requests=chosen(user, values["requests"]),
            how=How(values["how"]),
            sites=[
                named(sites_visible(user), "site", "sites", code)
                for code in dict.fromkeys(values["sites"])
            ],
            within=within,
            today=today(),
        )
        return shown(done)


def ensure_done(outcome: Outcome) -> None:
    """Raise StepRefused where the one request was skipped."""
    for request, why in outcome.skipped:
        raise StepRefused(
            request.reference, why, "hold what waits for a time, release what is held"
        )


def chosen(user: User, references: list[str]) -> list[Request]:
    """Requests in view, in their order. Raises ValidationError that names those that are not."""
    rows = {row.reference: row for row in requests_visible(user).filter(reference__in=references)}
    unknown = [name for name in dict.fromkeys(references) if name not in rows]
    if unknown:
        more = f" and {len(unknown) - SHOWN} more" if len(unknown) > SHOWN else ""
        said = f"There is no such request among those that you see: {', '.join(unknown[:SHOWN])}"
        raise serializers.ValidationError({"requests": [f"{said}{more}. Leave them out."]})
    return [rows[name] for name in sorted(rows)]


def shown(outcome: Outcome) -> dict[str, Any]:
    """What became of each, by reference."""
    return {
        "done": [row.reference for row in outcome.done],
        "skipped": [{"request": row.reference, "why": why} for row, why in outcome.skipped],
    }
