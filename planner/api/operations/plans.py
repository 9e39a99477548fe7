"""What a planning run proposes: looked at, accepted, put aside."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from contextlib import suppress
from typing import Any, ClassVar

from django.http import Http404
from rest_framework import serializers
from rest_framework.response import Response

from planner.api.find import one
from planner.api.operation import Act, Listing, Read
from planner.api.operations.runs import RunRead, runs
from planner.api.pages import Orders, limit_of, part_of
from planner.api.shapes import plans as shapes
from planner.api.shapes.runs import RunShape
from planner.gateway.present import now
from planner.gateway.record import Changed, Look, look
from planner.gateway.review.book import Review, review
from planner.gateway.review.changed import changed_words
from planner.gateway.review.choice import changes_of, items_to_write
from planner.gateway.review.figures import difference
from planner.gateway.review.lines import Kind, Line
from planner.gateway.runs import Result, land
from sites.errors import NotReady
from sites.models import OPEN_RUNS, PlanRun, RunState, User
from sites.services.runs import not_ready, run_put_aside

SHOWN = 5
"""Unknown references that are named."""
COUNTS = ("booked", "moved", "dropped", "stood", "care", "breaks")


def planned(user: User, number: int) -> tuple[PlanRun, Review]:
    """A run that is over, with its plan. Raises Http404, or NotReady where it has none."""
    run: PlanRun = one(runs(user), "planning run", pk=number)
    if run.state in OPEN_RUNS:
        raise not_ready(run)
    return run, review(run)


class RunPlan(Read):
    """A run's plan as a whole: its figures beside what is booked, and how full each day is.

    A plan, not a decision about a person: nothing of it holds before somebody accepts it.
    """

    rule, tag, gives, query, rate = "runs.see", "runs", shapes.PlanShape, shapes.PlanQuery, "heavy"
    refuses = ("not_ready",)

    def find(self, user: User, **path: Any) -> Any:
        """The plan of a run that is over."""
        run, found = planned(user, path["run"])
        counts = Counter(line.kind for line in found.lines)
        return {
            "run": run.pk,
            "plan": run.plan_digest,
            "counts": {str(kind): counts[kind] for kind in Kind},
            "wait_minutes": found.network.policy.wait_minutes,
            "wait_risk": found.network.policy.wait_risk,
            "figures": found.figures,
            "in_force": found.in_force,
            "beside": self.beside(user, found),
            "load": [
                {
                    "site": row.site,
                    "day": cell.day,
                    "booked": cell.load.booked,
                    "planned": cell.load.planned,
                    "room": cell.load.room,
                }
                for row in found.loads
                for cell in row.cells
            ],
        }

    def beside(self, user: User, found: Review) -> dict[str, Any] | None:
        """The run that it is put beside, if one is asked for."""
        number = self.asked().get("beside")
        if number is None:
            return None
        run, other = planned(user, number)
        return {
            "run": run.pk,
            "figures": other.figures,
            "difference": difference(found.told, other.told),
        }


class RunLines(Listing):
    """What a run's plan would do to each request: new, moved, left out with reason and remedy."""

    rule, tag, gives, query = "runs.see", "runs", shapes.RunLineShape, shapes.LinesQuery
    orders: ClassVar[Orders] = {"time": ()}
    refuses = ("not_ready",)

    def known_parameters(self) -> set[str]:
        """Those of the query and of the page."""
        return super().known_parameters() | set(self.query().fields)

    def get(self, request: Any, **path: Any) -> Response:
        """One page of lines, in the order of time, who is left out last."""
        self.order()
        asked = self.asked()
        run, found = planned(request.user, path["run"])
        lines = [line for line in found.lines if shows(line, asked)]
        page, cursor = part_of(
            lines,
            limit_of(request.query_params.get("limit")),
            request.query_params.get("cursor"),
            of=[run.pk, run.plan_digest, *(f"{name}={asked[name]}" for name in sorted(asked))],
        )
        return self.page(page, cursor)


def shows(line: Line, asked: dict[str, Any]) -> bool:
    """Whether the filters leave a line."""
    places = [place for place in (line.now, line.was) if place is not None]
    return (
        asked.get("kind") in (None, str(line.kind))
        and line.request.startswith(asked.get("begins", ""))
        and ("site" not in asked or any(place.site == asked["site"] for place in places))
        and ("day" not in asked or any(place.day == asked["day"] for place in places))
    )


class RunMeanwhile(Read):
    """What accepting all of a plan would do to the record as it stands now, or what it did.

    What changed in the record since the plan was made is left as it is, and named here.
    """

    rule, tag, gives, rate = "runs.see", "runs", shapes.MeanwhileShape, "heavy"
    refuses = ("not_ready", "bad_value")

    def find(self, user: User, **path: Any) -> Any:
        """Compared now, or as it was when the plan was accepted."""
        run, found = planned(user, path["run"])
        if run.state == RunState.KEPT and run.outcome is not None:
            changed = [Changed(**each) for each in run.outcome.get("changed", ())]
            seen = Look(**{name: run.outcome[name] for name in COUNTS}, changed=tuple(changed))
        elif run.state == RunState.READY:
            seen = look(found.network, found.plan)
        else:
            raise not_ready(run)
        return {
            "accepted": run.state == RunState.KEPT,
            "would": seen,
            "changed": [changed_words(each, found.network) for each in seen.changed],
        }


class RunAccept(Act):
    """Accept a plan: all of its changes, or some; they are booked in one transaction.

    Whoever stays in place stays. What the record no longer takes is left as it is and counted out:
    see what happened meanwhile. People who hear something new get a notice.
    """

    rule, tag, takes, gives, rate = "runs.accept", "runs", shapes.AcceptIn, RunShape, "heavy"
    on, status = RunRead, 200
    refuses = ("not_ready", "step_refused", "slot_taken", "already_booked")

    def post(self, request: Any, **path: Any) -> Response:
        """Write it; a large plan is read before the transaction begins, and found at hand in it."""
        with suppress(Http404, NotReady):
            planned(request.user, path["run"])
        return super().post(request, **path)

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Write it."""
        user = self.request.user
        run, found = planned(user, thing.pk)
        if run.state != RunState.READY:
            raise not_ready(run)
        changes = set(changes_of(found.lines))
        for name in ("requests", "without"):
            ensure_changes(name, values.get(name, ()), changes)
        left = changes - set(values["requests"]) if "requests" in values else values.get("without")
        items = items_to_write(found.lines, without=set(left or ()))
        land(run.pk, items=items, by=user, at=now(), made=Result(found.network, found.plan))
        return one(runs(user), "planning run", pk=run.pk)


def ensure_changes(name: str, chosen: Collection[str], changes: Collection[str]) -> None:
    """Raise ValidationError where something is named that the plan does not change."""
    if unknown := sorted(set(chosen) - set(changes)):
        more = f" and {len(unknown) - SHOWN} more" if len(unknown) > SHOWN else ""
        said = f"The plan changes nothing for {', '.join(unknown[:SHOWN])}{more}: leave them out."
        raise serializers.ValidationError({name: [said]})


class RunPutAside(Act):
    """Accept nothing of a plan; it stays readable, and nothing is booked."""

    rule, tag, gives = "runs.accept", "runs", RunShape
    on, status, refuses = RunRead, 200, ("not_ready",)

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Put it aside."""
        run_put_aside(run=thing.pk)
        return one(runs(self.request.user), "planning run", pk=thing.pk)
