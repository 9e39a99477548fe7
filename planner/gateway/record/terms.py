"""What programmes charge and promise, as one policy, a weight and a cost for each request.

A network has one policy. Where programmes differ it takes the strictest promises and the highest
costs; a request's weight and ``unbooked`` bring its own programme's costs back in proportion.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from functools import reduce
from math import lcm

from planner.engine.errors import Fault, FileRefused
from planner.engine.network import Cost, Policy
from sites.models import ProgrammeVersion

HALVES_AFTER = 7
"""Days: what leaving a request out costs halves each time its due date lies so much later."""
LEAST_SHARE = 0.2
"""But never falls below this share, so that free places are still used; both are ours."""


def all_terms() -> dict[int, ProgrammeVersion]:
    """All versions by key, in one query, in order of programme and first day."""
    rows = ProgrammeVersion.objects.order_by("programme", "starts_on")
    found = {row.pk: row for row in rows}
    if not found:
        raise FileRefused(
            [
                Fault(
                    "programmes",
                    "no programme has parameters yet",
                    "add a programme with a version in force, or import a network",
                )
            ]
        )
    return found


def latest(terms: Iterable[ProgrammeVersion], day: date) -> list[ProgrammeVersion]:
    """Each programme's version on a day (its first one where none had begun)."""
    by_programme: dict[int, ProgrammeVersion] = {}
    for row in terms:
        if row.programme_id not in by_programme or row.starts_on <= day:
            by_programme[row.programme_id] = row
    return list(by_programme.values())


def grain_of(terms: Iterable[ProgrammeVersion]) -> int:
    """Minutes that every programme's grain divides."""
    return reduce(lcm, (row.grain_minutes for row in terms))


def policy_of(terms: Iterable[ProgrammeVersion]) -> Policy:
    """The strictest promises and the highest costs of these versions."""
    rows = list(terms)
    return Policy(
        wait_minutes=min(row.wait_minutes for row in rows),
        wait_risk=min(row.wait_risk for row in rows),
        overtime_minutes=min(row.overtime_minutes for row in rows),
        overtime_risk=min(row.overtime_risk for row in rows),
        cost=Cost(
            unbooked=max(row.cost_unbooked for row in rows),
            late_day=max(row.cost_late_day for row in rows),
            wait_day=max(row.cost_wait_day for row in rows),
            travel_minute=max(row.cost_travel_minute for row in rows),
            move=max(row.cost_move for row in rows),
        ),
    )


def ratio(terms: ProgrammeVersion, policy: Policy) -> float:
    """A programme's cost of lateness (of waiting, where none has any) over the policy's."""
    for own, all_ in (
        (terms.cost_late_day, policy.cost.late_day),
        (terms.cost_wait_day, policy.cost.wait_day),
    ):
        if own > 0 and all_ > 0:
            return own / all_
    return 1.0


def unbooked_cost(
    terms: ProgrammeVersion, policy: Policy, *, due: int, days: int, given: float | None
) -> float | None:
    """What leaving a request out costs before its weight; None where it is the policy's.

    Whoever is left out is booked by a later run, on day ``days`` at the earliest: a request due
    before is late by then, and that lateness is added; one due later can wait for that run, and
    its cost halves for every `HALVES_AFTER` days until its due date, down to `LEAST_SHARE`.
    ``given`` (a request's own cost) stands as it is.
    """
    share = ratio(terms, policy)
    if given is not None:
        cost = given / share
    else:
        later = due - (days - 1)
        keep = max(LEAST_SHARE, 0.5 ** (later / HALVES_AFTER)) if later > 0 else 1.0
        cost = terms.cost_unbooked / share * keep + policy.cost.late_day * max(0, days - due)
    return None if cost == policy.cost.unbooked else cost
