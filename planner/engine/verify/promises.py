"""Rule 9: the promises of the policy, by simulation of the rule of the day."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeVar

from planner.engine.sessions.waits import assess, breaks_promise
from planner.engine.units import DAY
from planner.engine.verify.breach import Breach

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.engine.sessions.waits import Outcome
    from planner.engine.verify.facts import Facts

PURPOSE = "verify"  # random numbers that no planner draws from
AGREEMENT = 0.03  # what a plan's p_wait may differ beyond chance, for fewer draws than ours

_Key = TypeVar("_Key")


def promises_kept(facts: Facts, *, draws: int, seed: int) -> Iterator[Breach]:
    """Rule 9, with estimates from ``draws`` runs of the whole horizon."""
    plan = facts.plan
    outcome = assess(
        facts.network,
        plan.bookings,
        plan.care,
        plan.breaks,
        draws_n=draws,
        seed=seed,
        purpose=PURPOSE,
    )
    yield from _waiting(facts, outcome, draws)
    yield from _station_overtime(facts, outcome, draws)
    yield from _shift_overtime(facts, outcome, draws)


def _waiting(facts: Facts, outcome: Outcome, draws: int) -> Iterator[Breach]:
    """Every booking that the run places: the promise, and the ``p_wait`` that the plan states."""
    policy = facts.network.policy
    for booking in facts.plan.bookings:
        estimate = outcome.p_wait.get(booking.request)
        if estimate is None or facts.is_fixed(booking):
            continue
        who = booking.request
        if breaks_promise(estimate, policy.wait_risk, draws):
            detail = (
                f"{who}, told {facts.at(booking.told)}, waits more than {policy.wait_minutes} "
                f"minutes with probability {estimate:.4f}; {policy.wait_risk:g} is promised"
            )
            yield Breach(9, (who, booking.station), detail)
        middle = min(max((estimate + booking.p_wait) / 2, 0.0), 1.0)
        error = math.sqrt(2 * middle * (1 - middle) / draws)
        if not abs(booking.p_wait - estimate) <= AGREEMENT + 4 * error:
            detail = (
                f"the plan states p_wait {booking.p_wait:.4f} for {who}, "
                f"but {draws} drawn runs give {estimate:.4f}"
            )
            yield Breach(9, (who,), detail)


def _station_overtime(facts: Facts, outcome: Outcome, draws: int) -> Iterator[Breach]:
    """Station-days that hold a booking of the run: with fixed ones alone it has no say."""
    decided = {
        (booking.station, booking.start // DAY)
        for booking in facts.plan.bookings
        if not facts.is_fixed(booking)
    }
    for (station, day), estimate in _broken(facts, outcome.station_overtime, draws):
        if (station, day) in decided:
            where = f"the last session at {station} on {facts.date(day)}"
            yield Breach(9, (station,), _overtime(facts, where, "closing time", estimate))


def _shift_overtime(facts: Facts, outcome: Outcome, draws: int) -> Iterator[Breach]:
    """Shifts on which the run has a say; see `_decided_shifts`."""
    broken = list(_broken(facts, outcome.shift_overtime, draws))
    decided = _decided_shifts(facts) if broken else set()
    for (technician, index), estimate in broken:
        if (technician, index) in decided:
            shift = facts.technicians[technician].shifts[index]
            where = f"{technician}'s last thing in the shift from {facts.at(shift.start)}"
            end = f"the shift's end at {facts.at(shift.end)}"
            yield Breach(9, (technician,), _overtime(facts, where, end, estimate))


def _decided_shifts(facts: Facts) -> set[tuple[str, int]]:
    """Shifts with a booking of the run; or with no booking, but care at a station that has one.

    A shift whose bookings are all fixed appointments is excepted.
    """
    booked, decided, station_days = set(), set(), set()
    for booking in facts.plan.bookings:
        entry = facts.shift_at(booking.technician, booking.start)
        place = (booking.technician, entry[0]) if entry else None
        booked.add(place)
        if not facts.is_fixed(booking):
            station_days.add((booking.station, booking.start // DAY))
            decided.add(place)
    for placed in facts.plan.care:
        care = facts.care.get(placed.care)
        if care is not None and placed.technician is not None:
            entry = facts.shift_at(placed.technician, placed.start)
            place = (placed.technician, entry[0]) if entry else None
            if place not in booked and (care.station, placed.start // DAY) in station_days:
                decided.add(place)
    return {place for place in decided if place is not None}


def _broken(facts: Facts, risks: dict[_Key, float], draws: int) -> Iterator[tuple[_Key, float]]:
    promise = facts.network.policy.overtime_risk
    return ((key, risk) for key, risk in risks.items() if breaks_promise(risk, promise, draws))


def _overtime(facts: Facts, what: str, limit: str, estimate: float) -> str:
    policy = facts.network.policy
    return (
        f"{what} ends more than {policy.overtime_minutes} minutes after {limit} with probability "
        f"{estimate:.4f}; {policy.overtime_risk:g} is promised"
    )
