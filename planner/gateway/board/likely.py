"""When each session is likely to end, by drawn runs of the whole plan."""

from __future__ import annotations

import numpy as np

from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.engine.sessions.waits import Draws, happen, plan_things
from planner.gateway.board.rows import Ends

DRAWS = 2000
LOW, HIGH = 0.10, 0.90


def likely_ends(network: Network, plan: Plan, seed: int = 0) -> Ends:
    """The minutes before which 10 % and 90 % of each session's ends lie, by request.

    The day runs by the rule of the day (rule 9), so that lateness carries over from the session
    before; runs in which the person does not come are left out. With `DRAWS` draws the shares have
    a standard error of at most 0.7 points; minutes are rounded to the nearest.
    """
    things = plan_things(network, plan.bookings, plan.care, plan.breaks)
    draws = Draws({item.id: item for item in network.profiles}, seed, DRAWS, "board")
    ends: dict[str, tuple[int, int]] = {}
    for thing, begin, end in happen(things, draws):
        came = end > begin
        if thing.key and came.any():
            low, high = np.quantile(end[came], (LOW, HIGH))
            ends[thing.key] = (round(float(low)), round(float(high)))
    return ends
