"""The independent judge of plans.

Feasibility and cost are derived again from network and plan alone: nothing here is shared with
what makes plans. Rules are numbered as in the network format.
"""

from __future__ import annotations

from itertools import chain
from typing import TYPE_CHECKING

from planner.engine.verify import (
    appointments,
    bookings,
    breaks,
    care,
    figures,
    overlaps,
    places,
    promises,
    reserve,
)
from planner.engine.verify.breach import Breach
from planner.engine.verify.facts import Facts, gather

if TYPE_CHECKING:
    from collections.abc import Iterable

    from planner.engine.network import Network
    from planner.engine.plan import Plan

__all__ = ["Breach", "verify", "verify_undrawn"]


def verify(
    network: Network, plan: Plan, *, draws: int, seed: int, care_may_be_unplaced: bool = True
) -> tuple[Breach, ...]:
    """Every rule that ``plan`` breaks, ordered by rule; an empty tuple for a sound plan.

    Ids in the plan that the network does not hold are breaches, never errors.

    Parameters
    ----------
    network, plan
        The sound network, and any plan for it.
    draws, seed
        Drawn runs for rule 9, at least 1, and their seed. A promise p is broken where the
        estimate exceeds p + 4 sqrt(p (1 - p) / draws).
    care_may_be_unplaced
        Whether care may be left out with a reason, as only a re-plan may.

    Raises
    ------
    ValueError
        For ``draws`` below 1.

    """
    if draws < 1:
        raise ValueError(f"draws is {draws}, not at least 1")
    facts = gather(network, plan)
    drawn = promises.promises_kept(facts, draws=draws, seed=seed)
    return _by_rule(chain(_undrawn(facts, care_may_be_unplaced), drawn))


def verify_undrawn(
    network: Network, plan: Plan, *, care_may_be_unplaced: bool = True
) -> tuple[Breach, ...]:
    """`verify` without rule 9, which alone needs simulation."""
    return _by_rule(_undrawn(gather(network, plan), care_may_be_unplaced))


def _undrawn(facts: Facts, care_may_be_unplaced: bool) -> Iterable[Breach]:
    return chain(
        bookings.each_request_once(facts),  # 1
        bookings.place_and_time(facts),  # 1
        bookings.features_and_skills(facts),  # 2
        places.bookings_in_place(facts),  # 3
        overlaps.one_thing_at_a_time(facts),  # 4
        care.each_care_once(facts, may_be_unplaced=care_may_be_unplaced),  # 5
        care.care_in_place(facts),  # 5
        breaks.breaks_of_shifts(facts),  # 6
        appointments.fixed_stand(facts),  # 7
        appointments.moved_is_said(facts),  # 7
        reserve.reserves_kept(facts),  # 8
        figures.lengths_stated(facts),  # 10
        figures.bookings_long_enough(facts),  # 10
        figures.figures_right(facts),  # 10
    )


def _by_rule(found: Iterable[Breach]) -> tuple[Breach, ...]:
    return tuple(sorted(found, key=lambda breach: breach.rule))
