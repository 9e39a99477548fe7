"""One candidate by body, read as the row of a list is."""

from __future__ import annotations

from typing import Any

from django.urls import reverse
from rest_framework import serializers

from planner.api.operation import Act
from planner.api.problems import Refused
from planner.api.shapes import intakes as shapes
from planner.gateway.present import today
from sites.selectors.external import candidate_read
from sites.selectors.intakes import around
from sites.services.candidates import candidates_take
from sites.services.doubles import person_alike


class CandidateTake(Act):
    """Take one candidate in, read as the row of a list is.

    Where it is likely a person of the record, nothing is taken in until `own` says that it is a
    request of its own.
    """

    rule, tag, takes = "intake.change", "intake", shapes.CandidateIn
    gives, refuses = shapes.CandidateTakenShape, ("likely_double",)

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Read it, look for the person, make the request."""
        user, own = self.request.user, values.pop("own", False)
        known = around(today=today(), seen_by=user)
        read = candidate_read(
            texts={key: text_of(value) for key, value in values.items()}, known=known
        )
        if read.candidate is None:
            faults: dict[str, list[str]] = {}
            for each in read.faults:
                faults.setdefault(each.column, []).append(f"{each.problem}: {each.remedy}.")
            raise serializers.ValidationError(faults)
        same = person_alike(candidate=read.candidate, today=today(), seen_by=user)
        if same and not own:
            raise Refused(
                "likely_double",
                f"It is likely the person of {same}: look at both, then send `own` as true where "
                "it is a request of its own.",
            )
        [made] = candidates_take(candidates=[read.candidate])
        return {"request": made.reference}

    def place(self, done: Any) -> str:
        """Where the request can be read."""
        return reverse("api:request", args=[done["request"]])


def text_of(value: Any) -> str:
    """A value as the text of a cell."""
    return ";".join(value) if isinstance(value, list) else f"{value}"
